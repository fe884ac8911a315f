/* Records what a program does to the files under one folder, and what it answers on TCP.

   LD_PRELOAD this library with
     RECORD_FOLDER  the folder, without a slash at its end
     RECORD_TRACE   the file to append records to (outside the folder)
     RECORD_FAULTS  optional: a file that, while it exists, makes calls fail. One line for each:
                    "sync ERRNO" or "write ERRNO" (write also covers truncate). With a line
                    "once" the file is removed as soon as one call has failed

   The program behaves as it would without it, except for the faults asked for.

   A record, little-endian:
     u8 op | u64 inode (sockets: file descriptor) | i64 offset | u32 length | u16 name length
     name | data (length bytes)

   op  O  a file was opened (perhaps made): name, inode      P  the same for a directory
       W  written: inode, offset, data                       T  truncated: inode, offset = length
       B  sync begins: inode, offset = its number            S  that sync is done
       F  that sync failed                                   X  a write or truncate failed
       U  unlinked: name                                     R  renamed: name = old NUL new
       L  linked: name = old NUL new                         N  about to be sent: descriptor, data
       A  acknowledged: data written to a file named __ack__

   A sync covers what was written before it began, so its beginning is recorded before the call
   and its end after it. What is sent is recorded before it leaves, so that an acknowledgement is
   never seen later than it was given. Files whose name ends in -shm are left out: SQLite makes
   them anew after a crash. */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <pthread.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/uio.h>
#include <unistd.h>

#define DESCRIPTORS 4096
#define REAL(result, name, ...)                                                                    \
    static result (*real_##name)(__VA_ARGS__);                                                     \
    if (!real_##name) real_##name = dlsym(RTLD_NEXT, #name)

enum kind { OTHER = 0, FILE_ = 1, ACK = 2, DIRECTORY = 3 };
static struct { uint8_t kind; uint64_t inode; } known[DESCRIPTORS];
static int trace_fd = -1;
static const char *folder, *faults;
static size_t folder_length;
static int64_t syncs;
static pthread_mutex_t order = PTHREAD_MUTEX_INITIALIZER;
static pthread_once_t once = PTHREAD_ONCE_INIT;

static void set_up(void) {
    REAL(int, open, const char *, int, ...);
    const char *trace = getenv("RECORD_TRACE");
    folder = getenv("RECORD_FOLDER");
    faults = getenv("RECORD_FAULTS");
    if (!folder || !trace) return;
    folder_length = strlen(folder);
    int fd = real_open(trace, O_WRONLY | O_CREAT | O_APPEND | O_CLOEXEC, 0600);
    /* High up, where a program that closes low descriptors does not meet it. */
    trace_fd = fcntl(fd, F_DUPFD_CLOEXEC, DESCRIPTORS);
    if (trace_fd < 0) trace_fd = fd;
    else { REAL(int, close, int); real_close(fd); }
}

static void record(char op, uint64_t inode, int64_t offset, const char *name, size_t name_length,
                   const void *data, size_t length) {
    pthread_once(&once, set_up);
    if (trace_fd < 0) return;
    REAL(ssize_t, write, int, const void *, size_t);
    int before = errno;
    uint32_t data_length = length;
    uint16_t name_size = name_length;
    size_t total = 23 + name_length + length;
    char *bytes = malloc(total);
    bytes[0] = op;
    memcpy(bytes + 1, &inode, 8);
    memcpy(bytes + 9, &offset, 8);
    memcpy(bytes + 17, &data_length, 4);
    memcpy(bytes + 21, &name_size, 2);
    memcpy(bytes + 23, name, name_length);
    if (length) memcpy(bytes + 23 + name_length, data, length);
    pthread_mutex_lock(&order);
    if (real_write(trace_fd, bytes, total) != (ssize_t)total) abort();
    pthread_mutex_unlock(&order);
    free(bytes);
    errno = before;
}

/* The path below the folder, or NULL; "" for the folder itself. Full paths only: the harness
   starts the program with one. */
static const char *below(const char *path) {
    pthread_once(&once, set_up);
    if (trace_fd < 0 || !path || strncmp(path, folder, folder_length)) return NULL;
    const char *rest = path + folder_length;
    if (*rest == 0) return rest;
    if (*rest != '/') return NULL;
    size_t length = strlen(rest);
    if (length >= 4 && !strcmp(rest + length - 4, "-shm")) return NULL;
    return rest + 1;
}

static int watched(int fd) {
    return fd >= 0 && fd < DESCRIPTORS && known[fd].kind == FILE_;
}

/* The errno a call shall fail with, or 0. */
static int fault(const char *call) {
    if (!faults) return 0;
    REAL(int, open, const char *, int, ...);
    REAL(int, close, int);
    int before = errno, wanted = 0;
    int fd = real_open(faults, O_RDONLY | O_CLOEXEC);
    if (fd >= 0) {
        char text[256];
        ssize_t length = read(fd, text, sizeof text - 1);
        real_close(fd);
        text[length > 0 ? length : 0] = 0;
        const char *at = strstr(text, call);
        if (at) wanted = atoi(at + strlen(call));
        if (wanted && strstr(text, "once")) {
            REAL(int, unlink, const char *);
            real_unlink(faults);
        }
    }
    errno = before;
    return wanted;
}

static void opened(int fd, const char *path, int flags) {
    if (fd < 0 || fd >= DESCRIPTORS) return;
    known[fd].kind = OTHER;
    const char *name = below(path);
    struct stat status;
    if (!name || fstat(fd, &status)) return;
    known[fd].inode = status.st_ino;
    if (S_ISDIR(status.st_mode)) {
        known[fd].kind = DIRECTORY;
        record('P', status.st_ino, 0, name, strlen(name), NULL, 0);
    } else if (!strcmp(name, "__ack__")) {
        known[fd].kind = ACK;
    } else {
        known[fd].kind = FILE_;
        record('O', status.st_ino, 0, name, strlen(name), NULL, 0);
        if (flags & O_TRUNC) record('T', status.st_ino, 0, "", 0, NULL, 0);
    }
}

#define OPEN(name)                                                                                 \
    int name(const char *path, int flags, ...) {                                                   \
        va_list rest;                                                                              \
        va_start(rest, flags);                                                                     \
        int mode = va_arg(rest, int);                                                              \
        va_end(rest);                                                                              \
        REAL(int, name, const char *, int, ...);                                                   \
        int fd = real_##name(path, flags, mode);                                                   \
        opened(fd, path, flags);                                                                   \
        return fd;                                                                                 \
    }
OPEN(open)
OPEN(open64)

#define OPENAT(name)                                                                               \
    int name(int at, const char *path, int flags, ...) {                                           \
        va_list rest;                                                                              \
        va_start(rest, flags);                                                                     \
        int mode = va_arg(rest, int);                                                              \
        va_end(rest);                                                                              \
        REAL(int, name, int, const char *, int, ...);                                              \
        int fd = real_##name(at, path, flags, mode);                                               \
        opened(fd, path, flags);                                                                   \
        return fd;                                                                                 \
    }
OPENAT(openat)
OPENAT(openat64)

int close(int fd) {
    REAL(int, close, int);
    if (fd >= 0 && fd < DESCRIPTORS) known[fd].kind = OTHER;
    return real_close(fd);
}

#define PWRITE(name, offset_type)                                                                  \
    ssize_t name(int fd, const void *data, size_t length, offset_type offset) {                    \
        REAL(ssize_t, name, int, const void *, size_t, offset_type);                               \
        int wanted = watched(fd) ? fault("write") : 0;                                             \
        if (wanted) {                                                                              \
            record('X', known[fd].inode, offset, "", 0, NULL, 0);                                  \
            errno = wanted;                                                                        \
            return -1;                                                                             \
        }                                                                                          \
        ssize_t done = real_##name(fd, data, length, offset);                                      \
        if (done > 0 && watched(fd)) record('W', known[fd].inode, offset, "", 0, data, done);      \
        return done;                                                                               \
    }
PWRITE(pwrite, off_t)
PWRITE(pwrite64, off64_t)

static int is_tcp(int fd) {
    int domain = 0, before = errno;
    socklen_t size = sizeof domain;
    int failed = getsockopt(fd, SOL_SOCKET, SO_DOMAIN, &domain, &size);
    errno = before;
    return !failed && (domain == AF_INET || domain == AF_INET6);
}

static void sending(int fd, const void *data, size_t length) {
    pthread_once(&once, set_up);
    if (trace_fd >= 0 && is_tcp(fd)) record('N', fd, 0, "", 0, data, length);
}

static void sending_many(int fd, const struct iovec *parts, int count) {
    for (int i = 0; i < count; i++) sending(fd, parts[i].iov_base, parts[i].iov_len);
}

ssize_t write(int fd, const void *data, size_t length) {
    REAL(ssize_t, write, int, const void *, size_t);
    if (fd >= 0 && fd < DESCRIPTORS && known[fd].kind == ACK)
        record('A', known[fd].inode, 0, "", 0, data, length);
    if (!watched(fd)) {
        sending(fd, data, length);
        return real_write(fd, data, length);
    }
    int wanted = fault("write");
    if (wanted) {
        record('X', known[fd].inode, 0, "", 0, NULL, 0);
        errno = wanted;
        return -1;
    }
    ssize_t done = real_write(fd, data, length);
    if (done > 0) /* after the write, so that O_APPEND gives the true place */
        record('W', known[fd].inode, lseek(fd, 0, SEEK_CUR) - done, "", 0, data, done);
    return done;
}

ssize_t writev(int fd, const struct iovec *parts, int count) {
    REAL(ssize_t, writev, int, const struct iovec *, int);
    sending_many(fd, parts, count);
    return real_writev(fd, parts, count);
}

ssize_t send(int fd, const void *data, size_t length, int flags) {
    REAL(ssize_t, send, int, const void *, size_t, int);
    sending(fd, data, length);
    return real_send(fd, data, length, flags);
}

ssize_t sendmsg(int fd, const struct msghdr *message, int flags) {
    REAL(ssize_t, sendmsg, int, const struct msghdr *, int);
    sending_many(fd, message->msg_iov, message->msg_iovlen);
    return real_sendmsg(fd, message, flags);
}

#define TRUNCATE(name, offset_type)                                                                \
    int name(int fd, offset_type length) {                                                         \
        REAL(int, name, int, offset_type);                                                         \
        int wanted = watched(fd) ? fault("write") : 0;                                             \
        if (wanted) {                                                                              \
            record('X', known[fd].inode, length, "", 0, NULL, 0);                                  \
            errno = wanted;                                                                        \
            return -1;                                                                             \
        }                                                                                          \
        int failed = real_##name(fd, length);                                                      \
        if (!failed && watched(fd)) record('T', known[fd].inode, length, "", 0, NULL, 0);          \
        return failed;                                                                             \
    }
TRUNCATE(ftruncate, off_t)
TRUNCATE(ftruncate64, off64_t)

#define SYNC(name)                                                                                 \
    int name(int fd) {                                                                             \
        REAL(int, name, int);                                                                      \
        int ours = fd >= 0 && fd < DESCRIPTORS                                                     \
                   && (known[fd].kind == FILE_ || known[fd].kind == DIRECTORY);                    \
        if (!ours) return real_##name(fd);                                                         \
        int64_t number = __sync_add_and_fetch(&syncs, 1);                                          \
        record('B', known[fd].inode, number, "", 0, NULL, 0);                                      \
        int wanted = fault("sync");                                                                \
        int failed = wanted ? -1 : real_##name(fd);                                                \
        record(failed ? 'F' : 'S', known[fd].inode, number, "", 0, NULL, 0);                       \
        if (wanted) errno = wanted;                                                                \
        return failed;                                                                             \
    }
SYNC(fsync)
SYNC(fdatasync)

static void named(char op, const char *path) {
    const char *name = below(path);
    if (name) record(op, 0, 0, name, strlen(name), NULL, 0);
}

static void named_two(char op, const char *old_path, const char *new_path) {
    const char *old_name = below(old_path), *new_name = below(new_path);
    if (!old_name || !new_name) return;
    char both[2 * PATH_MAX + 1];
    size_t first = strlen(old_name) + 1, second = strlen(new_name);
    if (first + second > sizeof both) abort();
    memcpy(both, old_name, first);
    memcpy(both + first, new_name, second);
    record(op, 0, 0, both, first + second, NULL, 0);
}

int unlink(const char *path) {
    REAL(int, unlink, const char *);
    int failed = real_unlink(path);
    if (!failed) named('U', path);
    return failed;
}

int unlinkat(int at, const char *path, int flags) {
    REAL(int, unlinkat, int, const char *, int);
    int failed = real_unlinkat(at, path, flags);
    if (!failed) named('U', path);
    return failed;
}

int rename(const char *old_path, const char *new_path) {
    REAL(int, rename, const char *, const char *);
    int failed = real_rename(old_path, new_path);
    if (!failed) named_two('R', old_path, new_path);
    return failed;
}

int renameat(int old_at, const char *old_path, int new_at, const char *new_path) {
    REAL(int, renameat, int, const char *, int, const char *);
    int failed = real_renameat(old_at, old_path, new_at, new_path);
    if (!failed) named_two('R', old_path, new_path);
    return failed;
}

int link(const char *old_path, const char *new_path) {
    REAL(int, link, const char *, const char *);
    int failed = real_link(old_path, new_path);
    if (!failed) named_two('L', old_path, new_path);
    return failed;
}

int linkat(int old_at, const char *old_path, int new_at, const char *new_path, int flags) {
    REAL(int, linkat, int, const char *, int, const char *, int);
    int failed = real_linkat(old_at, old_path, new_at, new_path, flags);
    if (!failed) named_two('L', old_path, new_path);
    return failed;
}
