use super::*;

#[test]
fn only_a_newer_version_may_have_computed_otherwise() {
    let (this, runs) = RELEASED[0];
    assert_eq!(computed_by(this, runs), Computed::Alike);
    assert_eq!(computed_by("99.0.0", runs), Computed::Alike);
    assert_eq!(computed_by("99.0.0", "rhai 9.0.0"), Computed::ByNewer);
    for (tool, interpreter) in
        [(this, "rhai 9.0.0"), ("0.0.1", runs), ("0.0.1", "rhai 9.0.0"), ("x", runs), ("99.0", runs)]
    {
        assert!(matches!(computed_by(tool, interpreter), Computed::ByNone(_)), "{tool} {interpreter}");
    }
}
