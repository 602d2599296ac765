/* Touch-tone digits by libspandsp (Steve Underwood's telephony library): the peer and the outside
 * reference of our own receiver. Reads 16-bit samples at 8000 Hz from standard input, writes one
 * line a digit: the digit and the instant, in seconds, at which the library said it. */
#include <stdint.h>
#include <stdio.h>

#include <spandsp.h>

static long heard_until;

static void say(void *user, int digit, int level, int delay)
{
    (void)user;
    (void)level;
    if (digit)
        printf("%c %.6f\n", digit, (heard_until + delay) / 8000.0);
}

int main(void)
{
    int16_t block[102]; /* the library's own block: 12.75 ms */
    size_t count;
    dtmf_rx_state_t *receiver = dtmf_rx_init(NULL, NULL, NULL);
    dtmf_rx_set_realtime_callback(receiver, say, NULL);
    while ((count = fread(block, sizeof *block, 102, stdin)) > 0) {
        heard_until += (long)count;
        dtmf_rx(receiver, block, (int)count);
    }
    dtmf_rx_free(receiver);
    return 0;
}
