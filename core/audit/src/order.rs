//! Is the order of events one that can be, and does time go forwards?

use standpipe_job::Moment;

use super::point::Point;
use super::seen::{Look, Seen};
use standpipe_job::replay::entered;
use standpipe_job::{Event, Phase};

pub struct Order {
    order: Point,
    time: Point,
    last: Option<Moment>,
}

impl Order {
    pub fn new(file: &str) -> Self {
        Self { order: Point::new("order of events", file), time: Point::new("time", file), last: None }
    }
}

impl Look for Order {
    fn see(&mut self, seen: &Seen<'_>) {
        let (line, record, phase) = (seen.line(), seen.record, &seen.before.phase);
        self.order.looked_at += 1;
        self.time.looked_at += 1;
        if record.seq != seen.before.seq + 1 {
            self.order.fails(line, format!("event {} follows event {}", record.seq, seen.before.seq));
        }
        let opened = matches!(record.event, Event::Opened { .. });
        match (opened, *phase == Phase::New) {
            (true, false) => self.order.fails(line, "the job is opened a second time"),
            (false, true) => self.order.fails(line, "something happens before the job is opened"),
            _ => {}
        }
        if !seen.before.is_open() {
            self.order.fails(line, "something happens after the job was closed");
        }
        if let Some(late) = record.entered_at
            && late < record.at
        {
            self.time.fails(line, format!("entered at {late}, before it was done at {}", record.at));
        }
        // A late entry was done earlier; what goes forwards is when things were entered.
        let now = entered(record);
        if let Some(last) = self.last
            && now < last
        {
            self.time.fails(line, format!("entered at {now}, before the event above it at {last}"));
        }
        self.last = Some(self.last.map_or(now, |last| last.max(now)));
    }

    fn points(self: Box<Self>) -> Vec<Point> {
        vec![self.order, self.time]
    }
}
