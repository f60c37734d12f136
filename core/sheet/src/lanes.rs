//! Work for several threads whose results come back in the order of the work.
//!
//! Pieces go round among the threads, and their results are fetched in the same round: the order needs no bookkeeping, no
//! queue can grow, and what comes out does not depend on how many threads there are.

use std::sync::mpsc::sync_channel;
use std::thread;

/// Pieces that wait for one thread, and results that wait to be fetched from it.
const WAITING: usize = 4;

/// Hands the pieces of `feed` to `threads` threads. Each has a tool of its own from `tool`, made when its first piece comes;
/// `take` gets the results in order and says whether it wants more. Gives what `feed` gives. For one thread, that is the
/// caller's.
pub fn in_order<Piece: Send, Tool, Result: Send, Fed: Send>(
    threads: usize,
    feed: impl FnOnce(&mut dyn FnMut(Piece) -> bool) -> Fed + Send,
    tool: &(dyn Fn() -> Tool + Sync),
    work: &(dyn Fn(&Tool, Piece) -> Result + Sync),
    mut take: impl FnMut(Result) -> bool,
) -> Option<Fed> {
    if threads <= 1 {
        let mut own = None;
        return Some(feed(&mut |piece| take(work(own.get_or_insert_with(tool), piece))));
    }
    thread::scope(|scope| {
        let (mut pieces, mut results) = (Vec::new(), Vec::new());
        for _ in 0..threads {
            let (to, from) = sync_channel::<Piece>(WAITING);
            let (out, back) = sync_channel::<Result>(WAITING);
            scope.spawn(move || {
                let mut own = None;
                for piece in from {
                    if out.send(work(own.get_or_insert_with(tool), piece)).is_err() {
                        break;
                    }
                }
            });
            pieces.push(to);
            results.push(back);
        }
        let feeder = scope.spawn(move || {
            let mut turn = 0;
            feed(&mut |piece| {
                turn += 1;
                pieces[(turn - 1) % threads].send(piece).is_ok()
            })
        });
        for turn in 0.. {
            // A thread that has ended has no piece left, and so none of those after it has one.
            let Ok(result) = results[turn % threads].recv() else { break };
            if !take(result) {
                break;
            }
        }
        // Whoever still works finds nobody listening, and ends.
        drop(results);
        feeder.join().ok()
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn results_come_in_order_from_any_number_of_threads_and_stop_when_nobody_wants_more() {
        for threads in [1, 2, 5] {
            let mut seen = Vec::new();
            let fed = in_order(
                threads,
                |hand: &mut dyn FnMut(u64) -> bool| (0..1000).take_while(|n| hand(*n)).count(),
                &|| 3,
                &|tool, piece| tool * piece,
                |result| {
                    seen.push(result);
                    seen.len() < 100
                },
            );
            assert_eq!(seen, (0..100).map(|n| 3 * n).collect::<Vec<u64>>());
            assert!(fed.is_some_and(|fed| (99..200).contains(&fed)), "{fed:?}");
        }
        let mut seen = 0;
        let none = in_order(
            2,
            |_: &mut dyn FnMut(u8) -> bool| "done",
            &|| (),
            &|(), n| n,
            |_| {
                seen += 1;
                true
            },
        );
        assert_eq!((none, seen), (Some("done"), 0));
    }
}
