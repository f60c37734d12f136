//! A cable between a browser and the server, which can be cut: what runs over it then hangs without a word, as where a phone
//! has left the network. What was connected while it was cut stays dead for good.

use std::io::{Read, Write};
use std::net::{TcpListener, TcpStream};
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};

pub struct Cable {
    pub address: String,
    /// Even: whole. Odd: cut.
    cuts: Arc<AtomicUsize>,
}

impl Cable {
    pub fn to(server: &str) -> Self {
        let listener = TcpListener::bind("127.0.0.1:0").unwrap();
        let address = listener.local_addr().unwrap().to_string();
        let cuts = Arc::new(AtomicUsize::new(0));
        let (server, known) = (server.to_owned(), cuts.clone());
        std::thread::spawn(move || {
            for near in listener.incoming().map_while(Result::ok) {
                let Ok(far) = TcpStream::connect(&server) else { return };
                let begun = known.load(Ordering::SeqCst);
                for (from, to) in [(&near, &far), (&far, &near)] {
                    let (from, to) = (from.try_clone().unwrap(), to.try_clone().unwrap());
                    let known = known.clone();
                    std::thread::spawn(move || {
                        carry(from, to, || begun % 2 == 0 && known.load(Ordering::SeqCst) == begun)
                    });
                }
            }
        });
        Self { address, cuts }
    }

    pub fn cut(&self) {
        assert_eq!(self.cuts.fetch_add(1, Ordering::SeqCst) % 2, 0);
    }

    pub fn mend(&self) {
        assert_eq!(self.cuts.fetch_add(1, Ordering::SeqCst) % 2, 1);
    }
}

fn carry(mut from: TcpStream, mut to: TcpStream, whole: impl Fn() -> bool) {
    let mut some = [0; 16 << 10];
    loop {
        let Ok(count) = from.read(&mut some) else { return };
        if !whole() {
            // It ends with the test, and nobody hears of it before.
            std::thread::park();
            return;
        }
        if count == 0 {
            let _ = to.shutdown(std::net::Shutdown::Write);
            return;
        }
        if to.write_all(&some[..count]).is_err() {
            return;
        }
    }
}
