//! Time that a benchmark has computed: its thread, or the whole process.

use std::sync::OnceLock;
use std::time::Instant;

/// Whose time.
#[derive(Clone, Copy)]
#[allow(dead_code, reason = "each benchmark asks for one of them")]
pub enum Of {
    /// The calling thread's: what it hands to other threads is not counted.
    Thread,
    /// All threads' together: what work comes to that is spread over several.
    Process,
}

/// Seconds computed, so that a busy machine does not count; the clock's where Linux is not.
/// (`/proc/thread-self/schedstat` will not do: it moves on in steps of 4 ms, and the least of several runs is
/// then 0.)
pub fn seconds(of: Of) -> f64 {
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
        // CLOCK_PROCESS_CPUTIME_ID and CLOCK_THREAD_CPUTIME_ID of Linux.
        let clock = match of {
            Of::Process => 2,
            Of::Thread => 3,
        };
        let mut t = Timespec { s: 0, ns: 0 };
        // SAFETY: `t` lives through the call, which writes it and nothing else.
        if unsafe { clock_gettime(clock, &raw mut t) } == 0 {
            return t.s as f64 + t.ns as f64 * 1e-9;
        }
    }
    let _ = of;
    static START: OnceLock<Instant> = OnceLock::new();
    START.get_or_init(Instant::now).elapsed().as_secs_f64()
}
