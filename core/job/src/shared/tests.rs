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
    assert!(std::ptr::eq(&before[0], &list[0]) && !std::ptr::eq(&before[1], &list[1]));
}

#[test]
fn a_long_list_is_as_a_short_one() {
    let mut list = Shared::default();
    (0..3 * CHUNK + 1).for_each(|number| list.push(number));
    assert!(list.len() == 3 * CHUNK + 1 && list.iter().copied().eq(0..3 * CHUNK + 1));
    assert!(list.iter().rev().copied().eq((0..3 * CHUNK + 1).rev()));
    let before = list.clone();
    *list.change_at(CHUNK) = 0;
    list.change(|item| *item == 2 * CHUNK, |item| *item = 1);
    assert_eq!((list[CHUNK], list[2 * CHUNK], before[CHUNK], before[2 * CHUNK]), (0, 1, CHUNK, 2 * CHUNK));
    assert!(Arc::ptr_eq(&before.0[0], &list.0[0]) && !Arc::ptr_eq(&before.0[1], &list.0[1]), "one chunk is copied");
}
