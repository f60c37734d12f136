//! Lists whose copies share what lies in them: a decision works on a copy of the state, and changes little of it. What a copy
//! costs hardly grows with the list, or a job of many entries would take a time that grows with their square.

use std::iter::{FlatMap, Map};
use std::ops::Index;
use std::slice;
use std::sync::Arc;

/// Items that lie together: a copy counts these, and a change copies one.
const CHUNK: usize = 128;

type Chunk<T> = Arc<Vec<Arc<T>>>;

/// Every chunk but the last is full.
#[derive(Clone, Debug)]
pub struct Shared<T>(Vec<Chunk<T>>);

type Items<'a, T> = Map<slice::Iter<'a, Arc<T>>, fn(&'a Arc<T>) -> &'a T>;
type Iter<'a, T> = FlatMap<slice::Iter<'a, Chunk<T>>, Items<'a, T>, fn(&'a Chunk<T>) -> Items<'a, T>>;

impl<T> Default for Shared<T> {
    fn default() -> Self {
        Self(Vec::new())
    }
}

impl<T> Shared<T> {
    pub fn iter(&self) -> Iter<'_, T> {
        self.into_iter()
    }

    pub fn len(&self) -> usize {
        self.0.last().map_or(0, |last| (self.0.len() - 1) * CHUNK + last.len())
    }

    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    pub fn push(&mut self, item: T) {
        match self.0.last_mut().filter(|last| last.len() < CHUNK) {
            Some(last) => Arc::make_mut(last).push(Arc::new(item)),
            None => self.0.push(Arc::new(vec![Arc::new(item)])),
        }
    }
}

impl<T: Clone> Shared<T> {
    /// Changes those that a condition picks; the others stay shared. What is as it shall be is best not picked.
    pub fn change(&mut self, picks: impl Fn(&T) -> bool, change: impl Fn(&mut T)) {
        for chunk in self.0.iter_mut().filter(|chunk| chunk.iter().any(|item| picks(item))) {
            Arc::make_mut(chunk).iter_mut().filter(|item| picks(item)).for_each(|item| change(Arc::make_mut(item)));
        }
    }

    pub fn change_at(&mut self, index: usize) -> &mut T {
        Arc::make_mut(&mut Arc::make_mut(&mut self.0[index / CHUNK])[index % CHUNK])
    }
}

impl<T> Index<usize> for Shared<T> {
    type Output = T;

    fn index(&self, index: usize) -> &T {
        &self.0[index / CHUNK][index % CHUNK]
    }
}

impl<'a, T> IntoIterator for &'a Shared<T> {
    type Item = &'a T;
    type IntoIter = Iter<'a, T>;

    fn into_iter(self) -> Self::IntoIter {
        fn items<T>(chunk: &Chunk<T>) -> Items<'_, T> {
            chunk.iter().map(|item| &**item)
        }
        self.0.iter().flat_map(items)
    }
}

#[cfg(test)]
mod tests;
