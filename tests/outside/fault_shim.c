/* Counts the calls by which a program changes files, and makes the n-th of them fail, or kills the program there.
 *
 *   cc -shared -fPIC -O2 -o shim.so fault_shim.c -ldl
 *   LD_PRELOAD=shim.so FAULT_AT=12 FAULT_DO=kill|after|ENOSPC|EACCES|EIO FAULT_UNDER=/folder program ...
 *
 * Only calls on paths that start with FAULT_UNDER, and writes and syncs of files opened there, are counted. Without
 * FAULT_AT the count is written to the file FAULT_COUNT at the end. "after" kills once the call has been done. */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <signal.h>
#include <stdarg.h>
#include <stdatomic.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/syscall.h>
#include <sys/types.h>
#include <unistd.h>

static atomic_int calls;
static atomic_int ours[4096];
static int at = -1, fails, after, dead;
static const char *under, *count_file;

__attribute__((constructor)) static void begin(void) {
    const char *n = getenv("FAULT_AT"), *what = getenv("FAULT_DO");
    under = getenv("FAULT_UNDER");
    count_file = getenv("FAULT_COUNT");
    if (n) at = atoi(n);
    if (!what || !strcmp(what, "kill")) fails = 0;
    else if (!strcmp(what, "after")) after = 1;
    else fails = !strcmp(what, "ENOSPC") ? ENOSPC : !strcmp(what, "EACCES") ? EACCES : EIO;
}
__attribute__((destructor)) static void end(void) {
    if (!count_file) return;
    int (*real)(const char *, int, ...) = dlsym(RTLD_NEXT, "open");
    int fd = real(count_file, O_CREAT | O_WRONLY | O_TRUNC, 0644);
    char text[32];
    int n = snprintf(text, sizeof text, "%d\n", atomic_load(&calls));
    if (fd >= 0 && syscall(SYS_write, fd, text, n) > 0) close(fd);
}
static int here(const char *path) { return under && path && !strncmp(path, under, strlen(under)); }
static int mine(int fd) { return fd >= 0 && fd < 4096 && atomic_load(&ours[fd]); }

/* 0: go on; else the call fails with errno set. `stop()` after the call kills. */
static int gate(int counted) {
    if (!counted) return 0;
    int n = atomic_fetch_add(&calls, 1) + 1;
    if (n != at) return 0;
    if (fails) { errno = fails; return 1; }
    if (!after) kill(getpid(), SIGKILL);
    dead = 1;
    return 0;
}
static void stop(void) { if (dead) kill(getpid(), SIGKILL); }

#define REAL(name) __typeof__(&name) real = (__typeof__(&name))dlsym(RTLD_NEXT, #name)
#define CALL(counted, bad, call) do { if (gate(counted)) return bad; __typeof__(call) r = call; int e = errno; stop(); errno = e; return r; } while (0)

static int opened(int fd, int yes) { if (fd >= 0 && fd < 4096) atomic_store(&ours[fd], yes); return fd; }
int open(const char *path, int flags, ...) {
    va_list l; va_start(l, flags); mode_t m = va_arg(l, mode_t); va_end(l);
    REAL(open);
    int yes = here(path);
    if (gate(yes)) return -1;
    int fd = opened(real(path, flags, m), yes);
    stop();
    return fd;
}
int open64(const char *path, int flags, ...) {
    va_list l; va_start(l, flags); mode_t m = va_arg(l, mode_t); va_end(l);
    REAL(open64);
    int yes = here(path);
    if (gate(yes)) return -1;
    int fd = opened(real(path, flags, m), yes);
    stop();
    return fd;
}
static int at_(int dir, const char *path) { return here(path) || (path && path[0] != '/' && mine(dir)); }
int openat(int dir, const char *path, int flags, ...) {
    va_list l; va_start(l, flags); mode_t m = va_arg(l, mode_t); va_end(l);
    REAL(openat);
    int yes = at_(dir, path);
    if (gate(yes)) return -1;
    int fd = opened(real(dir, path, flags, m), yes);
    stop();
    return fd;
}
int openat64(int dir, const char *path, int flags, ...) {
    va_list l; va_start(l, flags); mode_t m = va_arg(l, mode_t); va_end(l);
    REAL(openat64);
    int yes = at_(dir, path);
    if (gate(yes)) return -1;
    int fd = opened(real(dir, path, flags, m), yes);
    stop();
    return fd;
}
ssize_t write(int fd, const void *b, size_t n) { REAL(write); CALL(mine(fd), -1, real(fd, b, n)); }
int fsync(int fd) { REAL(fsync); CALL(mine(fd), -1, real(fd)); }
int fdatasync(int fd) { REAL(fdatasync); CALL(mine(fd), -1, real(fd)); }
int ftruncate64(int fd, off64_t n) { REAL(ftruncate64); CALL(mine(fd), -1, real(fd, n)); }
int fchmod(int fd, mode_t m) { REAL(fchmod); CALL(mine(fd), -1, real(fd, m)); }
int mkdir(const char *p, mode_t m) { REAL(mkdir); CALL(here(p), -1, real(p, m)); }
int rename(const char *a, const char *b) { REAL(rename); CALL(here(a) || here(b), -1, real(a, b)); }
int renameat(int d, const char *a, int e, const char *b) { REAL(renameat); CALL(at_(d, a) || at_(e, b), -1, real(d, a, e, b)); }
int renameat2(int d, const char *a, int e, const char *b, unsigned f) { REAL(renameat2); CALL(at_(d, a) || at_(e, b), -1, real(d, a, e, b, f)); }
int unlink(const char *p) { REAL(unlink); CALL(here(p), -1, real(p)); }
int rmdir(const char *p) { REAL(rmdir); CALL(here(p), -1, real(p)); }
int unlinkat(int d, const char *p, int f) { REAL(unlinkat); CALL(at_(d, p), -1, real(d, p, f)); }
int symlink(const char *a, const char *b) { REAL(symlink); CALL(here(b), -1, real(a, b)); }
int link(const char *a, const char *b) { REAL(link); CALL(here(b), -1, real(a, b)); }
int chmod(const char *p, mode_t m) { REAL(chmod); CALL(here(p), -1, real(p, m)); }
/* A program may ask the kernel for an exchange of names by number. */
long syscall(long n, ...) {
    va_list l; va_start(l, n);
    long a = va_arg(l, long), b = va_arg(l, long), c = va_arg(l, long), d = va_arg(l, long), e = va_arg(l, long), f = va_arg(l, long);
    va_end(l);
    REAL(syscall);
    int counted = n == SYS_renameat2 && (here((const char *)b) || here((const char *)d));
    CALL(counted, -1, real(n, a, b, c, d, e, f));
}
