//! Instructions that the processor carried out, where the machine lets them be counted.

#[cfg(target_os = "linux")]
pub struct Counter(std::cell::RefCell<perf_event::Counter>);

#[cfg(target_os = "linux")]
impl Counter {
    /// `None` without a counter in the processor, as in many virtual machines, or without leave to read it
    /// (`/proc/sys/kernel/perf_event_paranoid` above 2).
    pub fn new() -> Option<Self> {
        // Instructions of this program alone are what it counts by default.
        perf_event::Builder::new().build().ok().map(|counter| Self(counter.into()))
    }

    /// Instructions of one turn.
    pub fn count(&self, turns: u32, mut run: impl FnMut()) -> f64 {
        let mut counter = self.0.borrow_mut();
        counter.reset().unwrap();
        counter.enable().unwrap();
        (0..turns).for_each(|_| run());
        counter.disable().unwrap();
        counter.read().unwrap() as f64 / f64::from(turns)
    }
}

#[cfg(not(target_os = "linux"))]
pub struct Counter;

#[cfg(not(target_os = "linux"))]
impl Counter {
    pub fn new() -> Option<Self> {
        None
    }

    pub fn count(&self, _: u32, _: impl FnMut()) -> f64 {
        f64::NAN
    }
}
