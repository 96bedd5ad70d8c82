/* By how much does the count move from one pair of levels to the next?
 *
 * The two levels are written BA, A in the low bit; A leads B while the count rises. The table is
 * that of firmware_notes/README.md.
 */
#ifndef SW_QUADRATURE_H
#define SW_QUADRATURE_H

#include <stdint.h>

/* Both levels changed between two looks: it may have gone either way, so nothing is counted. */
#define SW_SKIPPED 2

/* Step for (before << 2 | now). */
static const int8_t sw_steps[16] = {
    0,          +1,         -1,         SW_SKIPPED, /* from 00 */
    -1,         0,          SW_SKIPPED, +1,         /* from 01 */
    +1,         SW_SKIPPED, 0,          -1,         /* from 10 */
    SW_SKIPPED, -1,         +1,         0,          /* from 11 */
};

#endif
