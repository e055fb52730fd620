/* Loaded before the C library: lets a chosen call that writes fail, fall short, or be the last one of the process.
 *
 *   FAULT_KIND  count   nothing; the number of calls is written to FAULT_COUNT at the end
 *               kill    the process is killed before the call
 *               torn    half of what a write has is written, then the process is killed
 *               full    this write to a file and every later one find no space
 *               error   the call reports an input/output error
 *               short   a write takes half of what it was handed, as it may
 *   FAULT_AT    number of the call, from 1
 */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/types.h>
#include <sys/uio.h>
#include <unistd.h>

static int calls;

static int is_kind(const char *kind) {
    const char *chosen = getenv("FAULT_KIND");
    return chosen != NULL && strcmp(chosen, kind) == 0;
}

static int is_file(int fd) {
    struct stat about;
    return fstat(fd, &about) == 0 && S_ISREG(about.st_mode);
}

static void stop(void) {
    kill(getpid(), SIGKILL);
    pause();
}

/* Counts a call; whether it is the chosen one, or for a full disk one after it. */
static int is_chosen(void) {
    const char *at = getenv("FAULT_AT");
    int number = at == NULL ? 0 : atoi(at);
    int call = __sync_add_and_fetch(&calls, 1);
    if (is_kind("kill") && call == number) stop();
    return is_kind("full") ? number > 0 && call >= number : call == number;
}

/* Bytes that a chosen write takes, or -1 where it fails. */
static ssize_t taken(int fd, size_t size) {
    if (is_kind("full") && is_file(fd)) { errno = ENOSPC; return -1; }
    if (is_kind("error") && is_file(fd)) { errno = EIO; return -1; }
    if ((is_kind("short") || is_kind("torn")) && size > 1) return (ssize_t)(size / 2);
    return (ssize_t)size;
}

#define NEXT(name) ((__typeof__(&name))dlsym(RTLD_NEXT, #name))

#define WRITES(name, parameters, arguments)                          \
    ssize_t name parameters {                                        \
        if (is_chosen()) {                                           \
            ssize_t size_taken = taken(fd, size);                    \
            if (size_taken < 0) return -1;                           \
            size = (size_t)size_taken;                               \
            ssize_t written = NEXT(name) arguments;                  \
            if (is_kind("torn")) stop();                             \
            return written;                                          \
        }                                                            \
        return NEXT(name) arguments;                                 \
    }

WRITES(write, (int fd, const void *from, size_t size), (fd, from, size))
WRITES(pwrite, (int fd, const void *from, size_t size, off_t at), (fd, from, size, at))
WRITES(pwrite64, (int fd, const void *from, size_t size, off64_t at), (fd, from, size, at))

#define CHANGES(name, parameters, arguments, no_space)               \
    int name parameters {                                            \
        if (is_chosen()) {                                           \
            if (is_kind("torn")) stop();                             \
            if (is_kind("full") && no_space) { errno = ENOSPC; return -1; } \
            if (is_kind("error")) { errno = EIO; return -1; }        \
        }                                                            \
        return NEXT(name) arguments;                                 \
    }

CHANGES(fsync, (int fd), (fd), 0)
CHANGES(fdatasync, (int fd), (fd), 0)
CHANGES(ftruncate, (int fd, off_t size), (fd, size), 0)
CHANGES(ftruncate64, (int fd, off64_t size), (fd, size), 0)
CHANGES(rename, (const char *from, const char *to), (from, to), 1)
CHANGES(unlink, (const char *path), (path), 0)

__attribute__((destructor)) static void report(void) {
    const char *path = getenv("FAULT_COUNT");
    if (path == NULL) return;
    FILE *file = fopen(path, "w");
    if (file == NULL) return;
    fprintf(file, "%d\n", calls);
    fclose(file);
}
