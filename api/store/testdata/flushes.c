/* Stands between a test and the disk: counts every fsync and fdatasync, and
 * on request lets them fail. Compiled by the tests and preloaded into a child.
 *
 * WAINSCOT_FLUSHES names a file of two 64-bit numbers that the test and the
 * child share: how many flushes there were, and how many of the next ones are
 * to fail with EIO without being done. */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <stdatomic.h>
#include <stdlib.h>
#include <sys/mman.h>
#include <unistd.h>

static struct {
	_Atomic long long flushes, failing;
} *shared;

__attribute__((constructor)) static void begin(void)
{
	const char *name = getenv("WAINSCOT_FLUSHES");
	int fd = name ? open(name, O_RDWR) : -1;
	if (fd < 0)
		return;
	void *at = mmap(NULL, sizeof *shared, PROT_READ | PROT_WRITE, MAP_SHARED, fd, 0);
	if (at != MAP_FAILED)
		shared = at;
	close(fd);
}

static int flush(int fd, const char *real)
{
	if (shared) {
		atomic_fetch_add(&shared->flushes, 1);
		long long left = atomic_load(&shared->failing);
		while (left > 0 && !atomic_compare_exchange_weak(&shared->failing, &left, left - 1))
			;
		if (left > 0) {
			errno = EIO;
			return -1;
		}
	}
	int (*next)(int) = (int (*)(int))dlsym(RTLD_NEXT, real);
	return next(fd);
}

int fsync(int fd) { return flush(fd, "fsync"); }
int fdatasync(int fd) { return flush(fd, "fdatasync"); }
