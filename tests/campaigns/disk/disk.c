/* A disk that refuses, kills or takes notes: preloaded into the program and into every git it starts.
 *
 * What it does stands in a page shared by all of them (`struct orders`, written by `__init__.py`), so that
 * "the n-th call" counts over all processes. Only calls on what lies below `root` count. Nothing here
 * changes a call that is not the one that was ordered.
 */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <signal.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/file.h>
#include <sys/mman.h>
#include <sys/stat.h>
#include <sys/syscall.h>
#include <unistd.h>

enum { OFF, COUNT, ONCE, FROM_THEN_ON, KILL, KILL_ALL, RECORD };
enum { READING, WRITING, WRITE, FLUSH, RENAME, LINK, UNLINK, MKDIR, LOCK, KINDS };

struct orders {
    int mode, kind, when, error, fired, busy, count[KINDS];
    char root[1024], log[1024];
};

static struct orders *orders;

__attribute__((constructor)) static void begin(void) {
    const char *page = getenv("CAMPAIGN_DISK");
    int handle = page ? open(page, O_RDWR | O_CLOEXEC) : -1;
    if (handle < 0) return;
    void *there = mmap(0, sizeof *orders, PROT_READ | PROT_WRITE, MAP_SHARED, handle, 0);
    close(handle);
    if (there != MAP_FAILED) orders = there;
}

#define REAL(type, name, ...) \
    static type (*real)(__VA_ARGS__); \
    if (!real) real = (type (*)(__VA_ARGS__))dlsym(RTLD_NEXT, name)

static int below(const char *path) {
    size_t n = strlen(orders->root);
    return n && !strncmp(path, orders->root, n) && (path[n] == '/' || !path[n]);
}

static int of_handle(int handle, char *path) {
    char name[64];
    snprintf(name, sizeof name, "/proc/self/fd/%d", handle);
    ssize_t n = readlink(name, path, PATH_MAX - 1);
    if (n < 0) return 0;
    path[n] = 0;
    return below(path);
}

static int of_path(int folder, const char *name, char *path) {
    if (!name) return 0;
    if (name[0] == '/') {
        snprintf(path, PATH_MAX, "%s", name);
    } else {
        char base[PATH_MAX] = "";
        if (folder == AT_FDCWD) {
            if (!getcwd(base, sizeof base)) return 0;
        } else {
            of_handle(folder, base);
        }
        snprintf(path, PATH_MAX, "%.2000s/%.2000s", base, name);
    }
    return below(path);
}

/* Whether this call is the one that is to fail; a kill does not come back. */
static int refused(int kind) {
    if (orders->mode == OFF || orders->mode == RECORD) return 0;
    int n = __sync_add_and_fetch(&orders->count[kind], 1);
    if (orders->mode == FROM_THEN_ON && orders->fired && kind != READING) {
        errno = orders->error;
        return 1;
    }
    if (orders->mode == COUNT || kind != orders->kind || n != orders->when) return 0;
    __sync_add_and_fetch(&orders->fired, 1);
    if (orders->mode == KILL_ALL) kill(0, SIGKILL);
    if (orders->mode == KILL || orders->mode == KILL_ALL) {
        kill(getpid(), SIGKILL);
        pause();
    }
    errno = orders->error;
    return 1;
}

/* notes of what was written and flushed */

static int noting(int in) { return orders && in && orders->mode == RECORD; }

static void take(void) {
    while (__sync_lock_test_and_set(&orders->busy, 1)) usleep(50);
}

static void let_go(void) { __sync_lock_release(&orders->busy); }

static void note(char what, ino_t inode, long long at, const char *path, const char *other, const void *data,
                 size_t size) {
    int kept = errno;
    REAL(ssize_t, "write", int, const void *, size_t);
    int log = (int)syscall(SYS_openat, AT_FDCWD, orders->log, O_WRONLY | O_APPEND | O_CLOEXEC, 0);
    char head[2 * PATH_MAX + 128];
    int n = snprintf(head, sizeof head, "%c%c%llu%c%lld%c%zu%c%s%c%s\n", what, 0, (unsigned long long)inode, 0, at,
                     0, size, 0, path, 0, other);
    if (log >= 0) {
        if (real(log, head, (size_t)n) < 0 || (size && real(log, data, size) < 0)) abort();
        close(log);
    }
    errno = kept;
}

static ino_t inode_of(int handle) {
    struct stat is;
    return fstat(handle, &is) ? 0 : is.st_ino;
}

/* the calls */

static int opened(int (*real)(int, const char *, int, mode_t), int folder, const char *name, int flags,
                  mode_t mode) {
    char path[PATH_MAX];
    int writes = (flags & O_ACCMODE) != O_RDONLY || (flags & O_CREAT);
    int in = orders && of_path(folder, name, path);
    if (in && !(flags & O_DIRECTORY) && refused(writes ? WRITING : READING)) return -1;
    if (!noting(in) || !writes) return real(folder, name, flags, mode);
    take();
    struct stat was;
    int there = !fstatat(folder, name, &was, 0);
    int handle = real(folder, name, flags, mode);
    if (handle >= 0 && !there) note('C', inode_of(handle), 0, path, "", "", 0);
    if (handle >= 0 && there && (flags & O_TRUNC)) note('T', inode_of(handle), 0, path, "", "", 0);
    let_go();
    return handle;
}

static int real_openat(int folder, const char *name, int flags, mode_t mode) {
    REAL(int, "openat64", int, const char *, int, ...);
    return real(folder, name, flags, mode);
}

static mode_t mode_of(int flags, va_list rest) { return (flags & (O_CREAT | O_TMPFILE)) ? va_arg(rest, mode_t) : 0; }

#define OPEN(symbol) \
    int symbol(const char *name, int flags, ...) { \
        va_list rest; \
        va_start(rest, flags); \
        mode_t mode = mode_of(flags, rest); \
        va_end(rest); \
        return opened(real_openat, AT_FDCWD, name, flags, mode); \
    }
#define OPENAT(symbol) \
    int symbol(int folder, const char *name, int flags, ...) { \
        va_list rest; \
        va_start(rest, flags); \
        mode_t mode = mode_of(flags, rest); \
        va_end(rest); \
        return opened(real_openat, folder, name, flags, mode); \
    }
OPEN(open)
OPEN(open64)
OPENAT(openat)
OPENAT(openat64)
int __open_2(const char *name, int flags) { return opened(real_openat, AT_FDCWD, name, flags, 0); }
int __open64_2(const char *name, int flags) { return opened(real_openat, AT_FDCWD, name, flags, 0); }
int creat(const char *name, mode_t mode) {
    return opened(real_openat, AT_FDCWD, name, O_CREAT | O_WRONLY | O_TRUNC, mode);
}

ssize_t write(int handle, const void *data, size_t size) {
    REAL(ssize_t, "write", int, const void *, size_t);
    char path[PATH_MAX];
    int in = orders && orders->mode != OFF && of_handle(handle, path);
    if (in && refused(WRITE)) return -1;
    if (!noting(in)) return real(handle, data, size);
    take();
    ssize_t done = real(handle, data, size);
    if (done > 0) note('W', inode_of(handle), lseek(handle, 0, SEEK_CUR) - done, path, "", data, (size_t)done);
    let_go();
    return done;
}

static ssize_t placed(int handle, const void *data, size_t size, off_t at) {
    REAL(ssize_t, "pwrite64", int, const void *, size_t, off_t);
    char path[PATH_MAX];
    int in = orders && orders->mode != OFF && of_handle(handle, path);
    if (in && refused(WRITE)) return -1;
    if (!noting(in)) return real(handle, data, size, at);
    take();
    ssize_t done = real(handle, data, size, at);
    if (done > 0) note('W', inode_of(handle), at, path, "", data, (size_t)done);
    let_go();
    return done;
}
ssize_t pwrite(int handle, const void *data, size_t size, off_t at) { return placed(handle, data, size, at); }
ssize_t pwrite64(int handle, const void *data, size_t size, off_t at) { return placed(handle, data, size, at); }

static int cut(int handle, off_t size) {
    REAL(int, "ftruncate64", int, off_t);
    char path[PATH_MAX];
    if (!noting(orders && orders->mode == RECORD && of_handle(handle, path))) return real(handle, size);
    take();
    int done = real(handle, size);
    if (!done) note('T', inode_of(handle), size, path, "", "", 0);
    let_go();
    return done;
}
int ftruncate(int handle, off_t size) { return cut(handle, size); }
int ftruncate64(int handle, off_t size) { return cut(handle, size); }

static int flushed(int (*real)(int), int handle) {
    char path[PATH_MAX];
    int in = orders && orders->mode != OFF && of_handle(handle, path);
    if (in && refused(FLUSH)) return -1;
    if (!noting(in)) return real(handle);
    take();
    int done = real(handle);
    if (!done) note('F', inode_of(handle), 0, path, "", "", 0);
    let_go();
    return done;
}
int fsync(int handle) {
    REAL(int, "fsync", int);
    return flushed(real, handle);
}
int fdatasync(int handle) {
    REAL(int, "fdatasync", int);
    return flushed(real, handle);
}

/* two names, or one */

static int named(int kind, char what, int folder, const char *name, int folder2, const char *name2,
                 int (*real)(int, const char *, int, const char *, int), int extra) {
    char path[PATH_MAX] = "", other[PATH_MAX] = "";
    int in = orders && orders->mode != OFF && of_path(folder, name, path);
    if (in && name2) of_path(folder2, name2, other);
    if (in && kind >= 0 && refused(kind)) return -1;
    if (!noting(in)) return real(folder, name, folder2, name2, extra);
    take();
    int done = real(folder, name, folder2, name2, extra);
    if (!done) note(what, 0, 0, path, other, "", 0);
    let_go();
    return done;
}

static int to_renameat(int a, const char *b, int c, const char *d, int extra) {
    REAL(int, "renameat2", int, const char *, int, const char *, unsigned);
    return real(a, b, c, d, (unsigned)extra);
}
static int to_linkat(int a, const char *b, int c, const char *d, int extra) {
    REAL(int, "linkat", int, const char *, int, const char *, int);
    return real(a, b, c, d, extra);
}
static int to_unlinkat(int a, const char *b, int c, const char *d, int extra) {
    REAL(int, "unlinkat", int, const char *, int);
    (void)c, (void)d;
    return real(a, b, extra);
}
static int to_mkdirat(int a, const char *b, int c, const char *d, int extra) {
    REAL(int, "mkdirat", int, const char *, mode_t);
    (void)c, (void)d;
    return real(a, b, (mode_t)extra);
}

int rename(const char *a, const char *b) { return named(RENAME, 'R', AT_FDCWD, a, AT_FDCWD, b, to_renameat, 0); }
int renameat(int f, const char *a, int g, const char *b) { return named(RENAME, 'R', f, a, g, b, to_renameat, 0); }
int link(const char *a, const char *b) { return named(LINK, 'L', AT_FDCWD, a, AT_FDCWD, b, to_linkat, 0); }
int linkat(int f, const char *a, int g, const char *b, int flags) {
    return named(LINK, 'L', f, a, g, b, to_linkat, flags);
}
int unlink(const char *a) { return named(UNLINK, 'U', AT_FDCWD, a, 0, 0, to_unlinkat, 0); }
int unlinkat(int f, const char *a, int flags) { return named(UNLINK, 'U', f, a, 0, 0, to_unlinkat, flags); }
int rmdir(const char *a) { return named(-1, 'U', AT_FDCWD, a, 0, 0, to_unlinkat, AT_REMOVEDIR); }
int mkdir(const char *a, mode_t mode) { return named(MKDIR, 'M', AT_FDCWD, a, 0, 0, to_mkdirat, (int)mode); }
int mkdirat(int f, const char *a, mode_t mode) { return named(MKDIR, 'M', f, a, 0, 0, to_mkdirat, (int)mode); }

int flock(int handle, int how) {
    REAL(int, "flock", int, int);
    char path[PATH_MAX];
    if (orders && orders->mode != OFF && of_handle(handle, path) && refused(LOCK)) return -1;
    return real(handle, how);
}
