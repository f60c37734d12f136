use super::*;

#[test]
fn it_is_called_by_what_the_form_lists_in_that_order() {
    let text = |text: &str| Value::Text(text.to_owned());
    let kiln = IndexMap::from([
        ("yard".to_owned(), text("behind the barn")),
        ("number".to_owned(), text("K 7")),
        ("door".to_owned(), Value::Unknown),
    ]);
    let facts = Value::Record(IndexMap::from([("kiln".to_owned(), Value::Record(kiln))]));
    let paths = ["kiln.number", "kiln.door", "kiln.yard", "kiln.none"].map(str::to_owned);
    assert_eq!(words(&paths, &facts), "K 7, behind the barn");
    assert_eq!(words(&[], &facts), "");
    assert_eq!(words(&paths, &Value::Unknown), "");
}
