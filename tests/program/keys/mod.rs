//! Who did what, shown by keys: what is wanted, what is found, and what OpenSSH makes of it.

mod attacks;
mod bench;
mod book;
mod entered;
mod openssh;
mod wanted;
