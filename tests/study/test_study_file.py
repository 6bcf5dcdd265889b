"""The study file: what it understands, and how it refuses what it does not."""

import pytest
from study_standin import BASE, write_study

from diaphragm_fem.design.files.key_path import all_paths, parse_path, read_path, write_path
from diaphragm_fem.errors import DesignError, StudyError
from diaphragm_fem.study.plan.constraint import read_expression
from diaphragm_fem.study.plan.study_file import read_study

pytestmark = pytest.mark.usefixtures("own_folder")


def study_of(folder, text):
    (folder / "base.toml").write_text(BASE)
    (folder / "study.toml").write_text(text)
    return folder / "study.toml"


HEAD = '[study]\nbase = "base.toml"\n'
VARY = '[vary.tread]\nkey = "plate.steps[0].tread"\nrange = ["0.5 mm", "2 mm"]\ncount = 4\n'
RATIOS = VARY.replace('["0.5 mm", "2 mm"]', "[0.5, 2.0]")
CHAIN = "".join(f'v{k} = {{ key = "plate.w{k}", ratio = 1, of = "v{k + 1}" }}\n' for k in range(40))
WIDTHS = "".join(f'"plate.w{k}" = "1 mm"\n' for k in range(41))


def test_a_study_is_read_with_its_settings_in_si(tmp_path):
    more = '[want]\nup_to = "15 kHz"\npoints = 200\n[morning]\nrank = "fundamental_hz"\naim = "low"\n'
    more += '[morning.limits]\nmoving_mass_kg = { below = "80 mg" }\n'
    study = read_study(write_study(tmp_path, more=more))
    assert study.recipe.settings["up_to_hz"] == 15e3 and study.recipe.settings["points"] == 200
    assert study.time_limit == 20.0
    twice = read_study(write_study(tmp_path, more="[want]\norders = [2, 0, 2]\n"))
    assert twice.recipe.settings["orders"] == [2, 0]  # one that repeats is one order
    assert study.limits == {"moving_mass_kg": (None, pytest.approx(80e-6))}
    assert [(wish.figure, wish.aim) for wish in study.wishes] == [("fundamental_hz", "low")]
    assert study.store_path.as_posix() == "results/study.study/cases.sqlite"


def test_the_night_replaces_the_numbers_of_the_day(tmp_path):
    path = write_study(tmp_path, more="[night]\ncount = { thickness = 4000 }\n")
    day, night = read_study(path), read_study(path, night=True)
    assert day.recipe.variables[1].count == 40 and night.recipe.variables[1].count == 4000
    assert night.folder.name == "study_by_night.study" and night.identity != day.identity


def test_a_ratio_follows_what_it_is_tied_to_and_a_key_list_gets_one_value(tmp_path):
    text = HEAD + VARY.replace('"plate.steps[0].tread"', '["plate.steps[0].tread", "plate.thickness"]')
    text += '[vary.second]\nkey = "plate.steps[1].tread"\nratio = 0.5\nof = "tread"\n'
    text += '[vary.third]\nkey = "plate.steps[1].distance"\nlist = [1.5, 2.0]\nof = "plate.steps[0].distance"\n'
    recipe = read_study(study_of(tmp_path, text)).recipe
    design = recipe.design_of(("1.5 mm", 0.5, 1.5))
    assert design["plate"]["thickness"] == design["plate"]["steps"][0]["tread"] == "1.5 mm"
    assert design["plate"]["steps"][1] == {"tread": "0.75 mm", "distance": "6.0 mm"}
    assert recipe.base["plate"]["steps"][1]["tread"] == "0.8 mm"  # the base is left alone


def test_a_material_number_may_be_added_to_the_design(tmp_path):
    text = HEAD + '[vary.stiffness]\nkey = \'materials."PEN film".youngs_modulus\'\nlist = ["5 GPa", "6 GPa"]\n'
    recipe = read_study(study_of(tmp_path, text)).recipe
    assert recipe.design_of(("6 GPa",))["materials"] == {"PEN film": {"youngs_modulus": "6 GPa"}}


def test_a_distribution_takes_its_middle_from_the_base_design(tmp_path):
    text = HEAD + '[vary.thickness]\nkey = "plate.thickness"\nnormal = { deviation = "4 %" }\ncount = 3\n'
    variable = read_study(study_of(tmp_path, text)).recipe.variables[0]
    assert variable.numbers == (pytest.approx(25.0), pytest.approx(1.0)) and variable.unit == "um"


def test_a_constraint_discards_by_keys_and_amounts(tmp_path):
    text = HEAD + VARY + '[keep]\n"it fits" = "plate.steps[0].distance + tread <= \'5.2 mm\' and tread > 0"\n'
    recipe = read_study(study_of(tmp_path, text)).recipe
    assert recipe.broken_constraint(recipe.design_of(("1.2 mm",))) is None
    assert recipe.broken_constraint(recipe.design_of(("1.3 mm",))) == "it fits"


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (
            HEAD + VARY + "[plan]\nhwo = 'grid'\n",
            r"study.toml, key plan.hwo: unknown key 'hwo'; did you mean 'how'\? allowed are how, cases",
        ),
        (
            HEAD.replace("[study]", "[study]\nhow = 'grid'") + VARY,
            r"study.toml, key study.how: unknown key 'how', which belongs to \[plan\]; allowed are base, name",
        ),
        (
            HEAD + VARY + "[plan]\nnight = true\n",
            r"plan.night: unknown key 'night', which belongs to \[study\], the top of the file, .*; allowed are how",
        ),
        (
            HEAD + VARY + "[plan]\nhow = 'random'\n",
            r"key plan.how: must be 'grid', 'latin hypercube', 'sobol', .*; received 'random'",
        ),
        (HEAD + VARY + "[plan]\nhow = 'sobol'\n", r"key plan.cases: must say how many cases a plan \"sobol\" takes"),
        (HEAD + VARY.replace("count = 4", "cuont = 4"), r"key vary.tread.cuont: .* did you mean 'count'\?"),
        (
            HEAD + VARY + "[want.bands]\n" + "".join(f'b{k} = ["1 kHz", "4 kHz"]\n' for k in range(101)),
            "want.bands: must hold no more than 100; received",
        ),
        (HEAD + VARY + '[want]\nbands = { a = { abot = "1 kHz" } }\n', r"want.bands.a.abot: .* did you mean 'about'\?"),
        (
            HEAD + VARY + '[morning]\npareto = ["moving_mass_kg"]\n',
            r"key morning.pareto: must be a table of names with a value each, \{ name = ... \}; received \['moving",
        ),
        (HEAD + VARY + "[morning]\naim = [1]\n", r"morning.aim: must be 'high' or 'low', or a text .* received \[1\]"),
        (
            HEAD + VARY.replace("count = 4", "count = 0"),
            r"key vary.tread.count: must be greater than or equal to 1; received 0",
        ),
        (
            HEAD + VARY.replace("count = 4\n", ""),
            r"key vary.tread.count: must say how many values of the range a grid takes",
        ),
        (
            HEAD + VARY.replace('tread"', 'traed"'),
            r"key vary.tread.key: 'plate.steps\[0\].traed' is not in the base design; the "
            r"nearest are plate.steps\[0\].tread",
        ),
        (
            HEAD + VARY + 'list = ["1 mm"]\n',
            r"key vary.tread: give exactly one of list, range, .*; received list, range",
        ),
        (
            HEAD + VARY.replace('range = ["0.5 mm", "2 mm"]', 'list = ["0.8 mm", "2 mm", "800 um"]'),
            r"key vary.tread.list: '800 um' stands there twice",
        ),
        (
            HEAD + VARY.replace('["0.5 mm", "2 mm"]', '["2 mm", "0.5 mm"]'),
            r"key vary.tread.range: must rise from its low to its high end, received \['2 mm', '0.5 mm'\]",
        ),
        (
            HEAD + VARY.replace("range", "log_range").replace("0.5 mm", "0 mm"),
            r"key vary.tread.log_range: both ends must be above 0",
        ),
        (
            HEAD + VARY.replace("0.5 mm", "half"),
            r"key vary.tread.range: must be numbers, or numbers with a unit in quotes .* received 'half'",
        ),
        (HEAD + VARY.replace('range = ["0.5 mm", "2 mm"]', "ratio = 2"), r"key vary.tread: a ratio needs `of`"),
        (
            HEAD + RATIOS + 'of = "thicknes"\n',
            r"key vary.tread.of: 'thicknes' neither varies nor stands in the base design; the "
            r"nearest are plate.thickness",
        ),
        (HEAD + RATIOS + 'of = "tread"\n', r"key vary.tread.of: is tied to itself through tread"),
        (
            f'{HEAD}[vary]\n{CHAIN}v40 = {{ key = "plate.w40", list = ["1 mm"] }}\n[change]\n{WIDTHS}',
            r"key vary.v0.of: is tied to a thing that is tied to another, and so on over more than 32",
        ),
        (
            HEAD + VARY.replace('range = ["0.5 mm", "2 mm"]', 'normal = { low = "1 mm" }'),
            r"key vary.tread.normal.low: unknown key .low., .*allowed are mean, deviation",
        ),
        (
            HEAD + VARY.replace('range = ["0.5 mm", "2 mm"]', 'normal = { mean = "1 mm" }'),
            r"key vary.tread.normal.deviation: .deviation. is missing; it says: Standard deviation",
        ),
        (
            HEAD
            + VARY.replace('range = ["0.5 mm", "2 mm"]', 'triangular = { low = "1 mm", peak = "3 mm", high = "2 mm" }'),
            r"triangular.peak: must lie from low to high",
        ),
        (
            HEAD + VARY + "[keep]\nfits = \"__import__('os').structure('true')\"\n",
            r'key keep."fits": .* is no expression of this study .* allowed are numbers, keys',
        ),
        (HEAD + VARY + '[keep]\nfits = "tread <"\n', r'key keep."fits": "tread <" is no expression of this study'),
        (
            HEAD + VARY + '[keep]\nfits = "traed < 1"\n',
            r"key keep.\"fits\": 'traed' neither varies nor stands in the base design; the nearest are tread",
        ),
        (
            HEAD + VARY + "[night]\ncount = { width = 3 }\n",
            r"key night.count.width: nothing of that name varies; known are tread",
        ),
        (
            HEAD.replace("base.toml", "bse.toml") + VARY,
            r"key study.base: the base design .*bse.toml: there is no such file",
        ),
        ("[study]\n" + VARY, r"key study.base: 'base' is missing; it says: Design file that the study starts from"),
        (
            HEAD + VARY.replace("2 mm", "2 kg"),
            r"key vary.tread.range: all its numbers must be of one kind, received '2 kg'",
        ),
        (
            HEAD + VARY.replace(" mm", " Hz"),
            r"key vary.tread.range: 'plate.steps\[0\].tread' is '1.2 mm' in the base design, so .* is of another kind",
        ),
        (HEAD + RATIOS, r"key vary.tread.range: .* is of another kind: give amounts such as '1.2 mm'"),
        (
            HEAD + VARY + '[vary.other]\nkey = "plate.steps.0.tread"\nlist = ["1 mm"]\n',
            r"key vary.other.key: .* varies already, as vary.tread",
        ),
        (
            HEAD + '[vary.treads]\nkey = ["plate.steps[0].tread", "plate.steps[1].tread"]\n'
            'normal = { deviation = "3 %" }\ncount = 3\n',
            r"key vary.treads.normal: its keys differ in the base design \(.*= '1.2 mm', .*= '0.8 mm'\)",
        ),
        (
            HEAD + '[vary.tread]\nkey = "plate.steps[0].tread"\nnormal = { deviation = "abc %" }\ncount = 3\n',
            r"key vary.tread.normal.deviation: must be a share such as \"3 %\", received 'abc %'",
        ),
        (
            HEAD + VARY + "[keep]\n" + "".join(f"k{k} = \"tread > '{k} um'\"\n" for k in range(251)),
            r"key keep: must hold no more than 250; received 251",  # of 9,000 a first case took over a minute
        ),
        (HEAD + VARY + '[keep]\nfits = "tread"\n', r'keep."fits": "tread" compares nothing'),
        (HEAD + VARY + '[want]\nup_to = "20 mm"\n', r"key want.up_to: 'mm' is not a unit of frequency"),
        (HEAD + VARY + '[want]\nup_to = "10 Hz"\n', r"key want.up_to: must lie above 20 Hz"),
        (
            HEAD + VARY + '[morning.limits]\nfundamental_hz = { below = "3 mm" }\n',
            r"key morning.limits.fundamental_hz.below: 'mm' is not a unit of frequency",
        ),
        (
            HEAD + VARY + '[morning.limits]\nfundamental_hz = { above = "2 kHz", below = "1 kHz" }\n',
            r"key morning.limits.fundamental_hz: nothing is above '2 kHz' and below '1 kHz'",
        ),
        (
            HEAD + VARY + '[morning]\nrank = "moving_mass_kg"\naim = "3 mm"\n',
            r"key morning.aim: 'mm' is not a unit of mass",
        ),
        (
            HEAD + VARY + '[morning]\nrank = "moving_mass_kg"\naim = "max"\n',
            r"key morning.aim: must be \"high\", \"low\", or a value to come near to; received 'max'",
        ),
        (
            HEAD + VARY + '[[morning.wish]]\nfigure = "low_area_m2"\n[[morning.wish]]\nfigure = "x_hz"\naim = "max"\n',
            r"key morning.wish\[1\].aim: must be \"high\"",
        ),
        (
            HEAD + 'time_limit = "-3 s"\n' + VARY,
            r"key study.time_limit: must be a time above 0 such as .*, received '-3 s'",
        ),
        (HEAD + 'time_limit = "100 h"\n' + VARY, r"key study.time_limit: .*at most 24 h, received '100 h'"),
        (
            HEAD + VARY + "[plan]\nseed = 1.5\n[vary.wide]\nkey = 'plate.width'\nof = 'tread'\nratio = '1'\n",
            r"key vary.wide.ratio: must be a plain number, without unit and quotes; received '1'\n"
            r".*study.toml, key plan.seed: must be a whole number, without quotes; received 1.5$",
        ),
        (HEAD + VARY + "[plan]\nhow = 'table'\n", r"key plan.table: must name the CSV file of the cases"),
        ("[study\n", r"study.toml: not a valid TOML file"),
    ],
)
def test_a_mistake_is_refused_with_file_key_received_and_allowed(tmp_path, text, message):
    with pytest.raises(StudyError, match=message):
        read_study(study_of(tmp_path, text))


def test_a_base_that_is_a_study_is_called_by_its_kind(tmp_path):
    """Its first key was told to be missing from the base design."""
    path = study_of(tmp_path, HEAD + VARY)
    path.write_text(path.read_text().replace('base = "', f'base = "{path.name}" # "'))
    with pytest.raises(StudyError, match=r"key study.base: must name a design file, .*study.toml is a study file"):
        read_study(path)


def test_a_table_of_cases(tmp_path, monkeypatch):
    text = HEAD + '[vary.tread]\nkey = "plate.steps[0].tread"\n[vary.film]\nkey = "plate.material"\n'
    path = study_of(tmp_path, text + '[plan]\nhow = "table"\ntable = "cases.csv"\n')
    (tmp_path / "cases.csv").write_text("film,tread\nPET film,1.1 mm\nPEN film,1.3 mm\n")
    study = read_study(path)
    assert study.rows == (("1.1 mm", "PET film"), ("1.3 mm", "PEN film"))
    for content, message in [
        ("film\nPET film\n", "cases.csv: column 'tread' is missing; received film"),
        ("hush:x:0\n", "cases.csv: column '(film|tread)' is missing; wanted are (tread, film|film, tread)$"),
        ("film,tread,width\na,b,c\n", "cases.csv: column 'width' is nothing that varies"),
        ("film,tread,film\na,b,c\n", "cases.csv: column 'film' stands there twice; keep one"),
        ("film,tread" + ",film" * 999 + "\na,b\n", "cases.csv: has 1001 columns; at most 1000 are read"),
        ("film,tread\nPET film,\n", "cases.csv, line 2: every column needs a value"),
        ("film,tread\nPET film\n", "cases.csv, line 2: needs 2 values like the heading; received 1"),
        ("film,tread\nPET film,0,9 mm\n", "line 2: needs 2 values like the heading; a point parts decimals; received"),
    ]:
        (tmp_path / "cases.csv").write_text(content)
        with pytest.raises(StudyError, match=message):
            read_study(path)
    monkeypatch.setattr("diaphragm_fem.study.plan.variables.MOST_VALUES", 4)
    (tmp_path / "cases.csv").write_text("film,tread\n" + "PET film,1 mm\n" * 3)
    with pytest.raises(StudyError, match=r"cases\.csv, line 4: at most 4 values are read; leave out what follows"):
        read_study(path)


def test_paths_are_read_and_written_and_every_value_has_one():
    table = {"a": {"b": [{"c": 1}, {"c": 2}]}, "x y": {"z": 3}}
    assert list(all_paths(table)) == ["a.b[0].c", "a.b[1].c", '"x y".z']
    assert [read_path(table, path) for path in all_paths(table)] == [1, 2, 3]
    write_path(table, "a.b[1].c", 7)
    write_path(table, "new.one", 8)
    assert table["a"]["b"][1]["c"] == 7 and table["new"] == {"one": 8}
    assert parse_path("a['x y'][3].b") == parse_path('a."x y".3.b') == ("a", "x y", 3, "b")
    with pytest.raises(DesignError, match="is no path of a key"):
        parse_path("a..b[")
    odd = {
        "materials": {"7075": 1, 'a"b': 2, "x'y": 3, "a.b [0]": 4, "5'11\"": 5}
    }  # an alloy's number ended the program
    assert [read_path(odd, path) for path in all_paths(odd)] == [1, 2, 3, 4, 5]


@pytest.mark.parametrize("key", ["modulus", "modulus.value"])
def test_a_number_set_in_place_of_one_is_known_where_that_was_and_not_by_whom(key):
    was = {"value": "16 MPa", "frequency": "1 kHz", "kind": "paper", "source": "a paper", "range": ["15 MPa", "17 MPa"]}
    table = {"modulus": was}
    write_path(table, key, "20 MPa")
    assert table == {"modulus": {"value": "20 MPa", "frequency": "1 kHz"}}


def test_several_numbers_set_in_place_of_one_are_not_told_as_found_by_whom_that_was():
    table = {"modulus": {"value": "16 MPa", "kind": "paper", "source": "a paper"}}
    write_path(table, "modulus.value", ["20 MPa", "22 MPa"])
    assert table == {"modulus": {"value": ["20 MPa", "22 MPa"]}}


VALUES = {"a": 1, "b": 2.0, "film": "PEN film", "length": "3 mm", "flank.width": "5 mm", "angle": "30 deg"}


def look(name):
    if name not in VALUES:
        raise StudyError(f"'{name}' neither varies nor stands in the base design")
    return VALUES[name]


@pytest.mark.parametrize(
    ("text", "holds"),
    [
        ("a < b", True), ("a > b", False), ("not a > b", True), ("a < b < 3", True), ("2 * a + b / 2 == 3", True),
        ("b ** 2 == 4 and (a == 2 or a == 1)", True), ("film == 'PEN film'", True), ("film != 'PEN film'", False),
        ("length == '3 mm'", True), ("length < '2.9 mm'", False), ("max(a, b) - hypot(3, 4) == -3", True),
        ("length + flank.width < 2 * flank.width", True), ("length > 0", True), ("length / '1 mm' > 2.9", True),
        ("length * flank.width < '16 mm^2'", True), ("sqrt(length * flank.width) < '3.9 mm'", True),
        ("length * sin(angle) > '1.51 mm'", False), ("atan2(length, flank.width) > angle", True),
        ("length ** -1 > 1 / '4 mm'", True),
    ],
)  # fmt: skip
def test_expressions_by_hand(text, holds):
    assert read_expression(text, "here", look).holds(look) is holds


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("length > '1 kg'", "length is in mm and '1 kg' is in kg; write an amount in mm"),
        ("length + flank.width <= 3.9", r"length \+ flank.width is in mm and 3.9 is a plain number; write '3.9 mm'"),
        ("angle < 15", "angle is in deg and 15 is a plain number; write '15 deg'"),
        ("film == 'PEN film' or length > '20 kg'", "length is in mm"),  # the half that no case asks for
        ("length < flank.width < 3", "flank.width is in mm and 3 is a plain number"),
        ("length + a > flank.width", "length is in mm and a is a plain number; write an amount in mm"),
        ("length * flank.width < 3", "is in m.2 and 3 is a plain number; write '3 m.2'"),
        ("length * flank.width * length < '3 mm^5'", "'3 mm.5' is no number, and no amount with a unit known here"),
        ("max(length, 3) > flank.width", "take amounts of one kind"),
        ("sin(length) > 1", "sin, cos and tan take an angle"),
        ("log10(length) > 1", "log10 takes a plain number"),
        ("film > 3", "film is no number"),
        ("length + (a < b) > 1", r"a < b is no number"),
    ],
)
def test_amounts_of_different_kinds_are_refused_with_the_unit_that_is_meant(text, message):
    with pytest.raises(StudyError, match=f"here, .*{message}"):
        read_expression(text, "here", look)


def test_a_ratio_to_an_amount_of_another_kind_is_refused(tmp_path):
    text = HEAD + '[vary.tread]\nkey = "plate.steps[0].tread"\nratio = 2\nof = "plate.mass"\n'
    path = study_of(tmp_path, text)
    (tmp_path / "base.toml").write_text(BASE.replace("[plate]", '[plate]\nmass = "2 g"'))
    with pytest.raises(StudyError, match=r"key vary.tread.of: 'plate.mass' is '2 g' and .* is '1.2 mm' .*another kind"):
        read_study(path)


HOSTILE = [
    "a.b(1)", "[a]", "lambda: 1", "a if b else 1", "f'{a}'", "a := 1", "open('x')", "a @ b", "True", "a[b]", "{}",
    "__import__('os').system('true') == 0", "a.__class__ == 1", "film.upper() == 'X'", "getattr(a, 'x') < 1",
    "[x for x in film] == 1", "max(a, key=film) < 1", "max(*film) < 1", "a in film", "a is b", "a % 2 < 1",
    "9 ** 9 ** 9 > 1", "a ** 99 > 1", "2 ** a > 1", "a < " + "9" * 600, "'9' * 10 ** 9 == 'x'", "a <", "", "\0",
    "a < " + "(" * 300 + "1" + ")" * 300, "-" * 900 + "1 < a", "not " * 240 + "a < b and 1",
    "a < " + "1 + " * 400 + "1",
    "min() < 1", "exec('1')", "print(a)", "b'x' == 1", "1j < 2", "None == a", "... == a", "(a, b) < (1, 2)",
    "a < b; a", "yield a", "await a", "a == 'x' 'y' * 9", "*a", "a[::2] == 1", "a['b']['c'](1)",
    "((9 ** 9) ** 9) ** a < 1",
]  # fmt: skip


REFUSED = "is no expression of this study|neither varies|is no number|compares nothing|of one kind"


@pytest.mark.parametrize("text", HOSTILE)
def test_no_other_code_gets_into_an_expression(text):
    with pytest.raises(StudyError, match=REFUSED):
        read_expression(text, "here", look)


def test_an_expression_without_a_value_says_so():
    with pytest.raises(StudyError, match=r'"1 / a < 2" has no value: float division by zero'):
        read_expression("1 / a < 2", "here", look).holds({"a": 0.0}.__getitem__)
