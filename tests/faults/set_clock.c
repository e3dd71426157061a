/* The time of day of a program, set ahead or back by a number of seconds in a file while it runs.
 *
 * Loaded with LD_PRELOAD. RICALCO_CLOCK_FILE names the file, which holds one int64_t in the
 * machine's own order. The monotonic clock and sleeping are left as they are, as on a machine
 * whose clock is set; libfaketime 0.9.10 breaks Python's sleep then, which gives clock_nanosleep
 * an absolute time.
 */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <fcntl.h>
#include <stdint.h>
#include <stdlib.h>
#include <sys/mman.h>
#include <sys/time.h>
#include <time.h>
#include <unistd.h>

static const volatile int64_t *ahead_s;
static int (*real_gettime)(clockid_t, struct timespec *);

__attribute__((constructor)) static void begin(void)
{
    const char *name = getenv("RICALCO_CLOCK_FILE");
    int file = name ? open(name, O_RDONLY | O_CLOEXEC) : -1;
    if (file >= 0) {
        void *found = mmap(NULL, sizeof(int64_t), PROT_READ, MAP_SHARED, file, 0);
        if (found != MAP_FAILED)
            ahead_s = found;
        close(file);
    }
}

int clock_gettime(clockid_t clock, struct timespec *now)
{
    if (!real_gettime)
        real_gettime = (int (*)(clockid_t, struct timespec *))dlsym(RTLD_NEXT, "clock_gettime");
    int failed = real_gettime(clock, now);
    if (!failed && ahead_s && (clock == CLOCK_REALTIME || clock == CLOCK_REALTIME_COARSE))
        now->tv_sec += *ahead_s;
    return failed;
}

int gettimeofday(struct timeval *restrict now, void *restrict zone)
{
    struct timespec found;
    (void)zone;
    if (clock_gettime(CLOCK_REALTIME, &found))
        return -1;
    now->tv_sec = found.tv_sec;
    now->tv_usec = found.tv_nsec / 1000;
    return 0;
}

time_t time(time_t *kept)
{
    struct timespec found;
    clock_gettime(CLOCK_REALTIME, &found);
    if (kept)
        *kept = found.tv_sec;
    return found.tv_sec;
}
