//! Who did what, shown by keys: what is wanted, what is found, and what OpenSSH makes of it.

mod attacks;
mod bench;
mod openssh;
mod wanted;
