//! Addresses: `step`, `step[round]`, `step[round][item]`, and `step[][item]` outside of any round.
//! Every event that belongs to a step carries one.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Deserializer, Serialize, Serializer};

/// A step in a round, and perhaps one of its items.
#[derive(Clone, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Address {
    pub step: String,
    /// Number of the round in every enclosing `repeat`, outermost first; a called procedure adds the number of the call.
    pub rounds: Vec<u32>,
    /// `full/7`; empty for the step as a whole.
    pub item: String,
}

impl Address {
    pub fn step(step: &str, rounds: &[u32]) -> Self {
        Self { step: step.to_owned(), rounds: rounds.to_vec(), item: String::new() }
    }

    pub fn with_item(&self, item: &str) -> Self {
        Self { item: item.to_owned(), ..self.clone() }
    }

    /// The step as a whole.
    pub fn whole(&self) -> Self {
        Self { item: String::new(), ..self.clone() }
    }

    /// The innermost round; 1 outside of any.
    pub fn round(&self) -> u32 {
        self.rounds.last().copied().unwrap_or(1)
    }
}

impl fmt::Display for Address {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.step)?;
        if !self.rounds.is_empty() {
            let rounds: Vec<String> = self.rounds.iter().map(u32::to_string).collect();
            write!(f, "[{}]", rounds.join("."))?;
        } else if !self.item.is_empty() {
            f.write_str("[]")?;
        }
        if !self.item.is_empty() {
            write!(f, "[{}]", self.item)?;
        }
        Ok(())
    }
}

/// Text that is not an address.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NoAddress(pub String);

impl fmt::Display for NoAddress {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "`{}` is not an address such as `step[2][full/7]`", self.0)
    }
}

impl FromStr for Address {
    type Err = NoAddress;

    fn from_str(text: &str) -> Result<Self, NoAddress> {
        let fault = || NoAddress(text.to_owned());
        let (step, mut rest) = text.split_at(text.find('[').unwrap_or(text.len()));
        let mut parts = Vec::new();
        while !rest.is_empty() {
            let inner = rest.strip_prefix('[').ok_or_else(fault)?;
            let (part, after) = inner.split_once(']').ok_or_else(fault)?;
            parts.push(part);
            rest = after;
        }
        let (rounds, item) = match parts.as_slice() {
            [] => ("", ""),
            [rounds] => (*rounds, ""),
            [rounds, item] => (*rounds, *item),
            _ => return Err(fault()),
        };
        let rounds = match rounds {
            "" => Vec::new(),
            rounds => rounds.split('.').map(str::parse).collect::<Result<_, _>>().map_err(|_| fault())?,
        };
        if step.is_empty() {
            return Err(fault());
        }
        Ok(Self { step: step.to_owned(), rounds, item: item.to_owned() })
    }
}

impl Serialize for Address {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for Address {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = String::deserialize(deserializer)?;
        text.parse().map_err(serde::de::Error::custom)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_address_reads_back_as_it_is_written() {
        for text in ["cool", "look[2]", "look[2.1]", "refit[][full/7]", "refit[1][full/7]", "look[2][nearside]"] {
            assert_eq!(text.parse::<Address>().unwrap().to_string(), text);
        }
        for text in ["", "[2]", "look[", "look[2", "look[a]", "look[1][2][3]"] {
            assert!(text.parse::<Address>().is_err(), "{text}");
        }
    }
}
