use super::*;

#[test]
fn a_lent_address_finds_what_an_owned_one_keeps() {
    let mut steps = Steps::default();
    let ids = ["cool", "look", "refit-pan-with-a-long-id"];
    for (step, rounds) in ids.iter().flat_map(|id| [(id, vec![]), (id, vec![1]), (id, vec![2, 1])]) {
        steps.change(&Address::step(step, &rounds)).attempts = 1 + rounds.len() as u32;
    }
    for (step, rounds) in ids.iter().flat_map(|id| [(id, vec![]), (id, vec![1]), (id, vec![2, 1])]) {
        let known = steps.known(At::step(step, &rounds)).map(|known| known.state.attempts);
        assert_eq!(known, Some(1 + rounds.len() as u32));
    }
    assert!(steps.known(At::step("look", &[2])).is_none());
    assert!(steps.known(At { item: "full/1", ..At::step("look", &[1]) }).is_none());
    assert_eq!(steps.iter().count(), 9);
}

#[test]
fn what_was_found_of_a_step_is_forgotten_with_every_change() {
    let mut steps = Steps::default();
    let (cool, at) = (Address::step("cool", &[]), At::step("cool", &[]));
    steps.change(&cool);
    steps.known(at).unwrap().set_through(7);
    let copy = steps.clone();
    assert!(steps.known(at).unwrap().is_through(7) && !steps.known(at).unwrap().is_through(8));
    steps.change(&cool).skipped = true;
    assert!(!steps.known(at).unwrap().is_through(7), "in what was changed");
    assert!(copy.known(at).unwrap().is_through(7), "in what was not");
}
