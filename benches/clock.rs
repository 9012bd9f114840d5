//! Time that a benchmark's thread has computed.

use std::sync::OnceLock;
use std::time::Instant;

/// Seconds that this thread has computed, so that a busy machine does not count; the clock's where Linux is not.
/// (`/proc/thread-self/schedstat` will not do: it moves on in steps of 4 ms, and the least of several runs is then 0.)
pub fn seconds() -> f64 {
    #[cfg(target_os = "linux")]
    {
        /// POSIX `struct timespec` where `time_t` and `long` have 64 bits.
        #[repr(C)]
        struct Timespec {
            s: i64,
            ns: i64,
        }
        unsafe extern "C" {
            fn clock_gettime(clock: i32, to: *mut Timespec) -> i32;
        }
        const CLOCK_THREAD_CPUTIME_ID: i32 = 3;
        let mut t = Timespec { s: 0, ns: 0 };
        // SAFETY: `t` lives through the call, which writes it and nothing else.
        if unsafe { clock_gettime(CLOCK_THREAD_CPUTIME_ID, &raw mut t) } == 0 {
            return t.s as f64 + t.ns as f64 * 1e-9;
        }
    }
    static START: OnceLock<Instant> = OnceLock::new();
    START.get_or_init(Instant::now).elapsed().as_secs_f64()
}
