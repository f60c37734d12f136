//! Lists whose copies share what lies in them: a decision works on a copy of the state, and changes little of it.

use std::iter::Map;
use std::ops::Index;
use std::sync::Arc;

#[derive(Clone, Debug)]
pub struct Shared<T>(Vec<Arc<T>>);

type Iter<'a, T> = Map<std::slice::Iter<'a, Arc<T>>, fn(&Arc<T>) -> &T>;

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
        self.0.len()
    }

    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    pub fn push(&mut self, item: T) {
        self.0.push(Arc::new(item));
    }
}

impl<T: Clone> Shared<T> {
    /// Changes those that a condition picks; the others stay shared.
    pub fn change(&mut self, picks: impl Fn(&T) -> bool, change: impl Fn(&mut T)) {
        self.0.iter_mut().filter(|item| picks(item)).for_each(|item| change(Arc::make_mut(item)));
    }

    pub fn change_at(&mut self, index: usize) -> &mut T {
        Arc::make_mut(&mut self.0[index])
    }
}

impl<T> Index<usize> for Shared<T> {
    type Output = T;

    fn index(&self, index: usize) -> &T {
        &self.0[index]
    }
}

impl<'a, T> IntoIterator for &'a Shared<T> {
    type Item = &'a T;
    type IntoIter = Iter<'a, T>;

    fn into_iter(self) -> Self::IntoIter {
        self.0.iter().map(|item| &**item)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_copy_shares_what_is_not_changed() {
        let mut list = Shared::default();
        list.push("one".to_owned());
        list.push("two".to_owned());
        let before = list.clone();
        list.change(|item| item == "two", |item| item.push('!'));
        list.push("three".to_owned());
        assert_eq!(before.iter().collect::<Vec<_>>(), ["one", "two"]);
        assert_eq!(list.iter().collect::<Vec<_>>(), ["one", "two!", "three"]);
        assert!(Arc::ptr_eq(&before.0[0], &list.0[0]) && !Arc::ptr_eq(&before.0[1], &list.0[1]));
    }
}
