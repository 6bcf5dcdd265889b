"""Studies whose figures are told rather than solved, for the tests of what the morning makes of them."""

import json

from study_standin import BASE

from diaphragm_fem.study.plan.sampling import Sampler
from diaphragm_fem.study.plan.study_file import read_study
from diaphragm_fem.study.run.store import Row, open_store


def filled(folder, text, figures_of, plan="", never_of=lambda *values: {}, without="discarded"):
    """A study whose figures are a function of the values in the study's own units, put straight into its store; a case
    without any is ruled out, or what `without` says. never_of: by what those are judged that never come.
    """
    (folder / "base.toml").write_text(BASE)
    (folder / "study.toml").write_text(text + plan)
    study = read_study(folder / "study.toml")
    names = [variable.name for variable in study.recipe.variables]
    rows = []
    for number, values in enumerate(Sampler(study).block(0, len(Sampler(study)))):
        plain = [float(str(value).split()[0]) if str(value)[0] in "-.0123456789" else value for value in values]
        figures = figures_of(*plain)
        status, reason = (without, "by hand") if figures is None else ("done", None)
        inputs = json.dumps(dict(zip(names, values, strict=True)))
        never = json.dumps(never_of(*plain)) if never_of(*plain) else None
        rows.append(Row(number, status, reason, inputs, b"", json.dumps(figures or {}), None, None, 0.01, never))
    with open_store(study) as store:
        store.add(rows)
    return study
