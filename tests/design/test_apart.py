"""Libraries are loaded apart from what lies in the folder of a study."""

import os
import subprocess
import sys

import pytest
from design_cases import CONE

from diaphragm_fem.design.files.apart import apart

DOORS = """
import os
from diaphragm_fem.design.read.read import load_design
from diaphragm_fem.report.files.drawing import dxf_text
from diaphragm_fem.report.sheets.style import drawing_style
here = os.getcwd()
dxf_text(load_design('cone.toml'))
assert os.getcwd() == here
"""


@pytest.fixture
def library(tmp_path, monkeypatch):
    """One that reads its settings where it is loaded, as some do."""
    (tmp_path / "reads_settings").mkdir()
    source = "from pathlib import Path\nread = Path('its.ini').read_text() if Path('its.ini').exists() else None\n"
    (tmp_path / "reads_settings" / "__init__.py").write_text(source)
    (tmp_path / "study").mkdir()
    (tmp_path / "study" / "its.ini").write_text("odd = true")
    monkeypatch.syspath_prepend(tmp_path)
    monkeypatch.chdir(tmp_path / "study")
    yield tmp_path / "study"
    sys.modules.pop("reads_settings", None)


def test_a_library_reads_no_settings_of_a_study(library):
    with apart("reads_settings"):
        import reads_settings
    assert reads_settings.read is None and os.getcwd() == str(library)
    with apart("reads_settings"):  # loaded already
        assert os.getcwd() == str(library)


def test_what_is_not_there_is_missed_by_whoever_loads_it(library):
    with pytest.raises(ImportError), apart("is_not_there"):
        import is_not_there  # noqa: F401


@pytest.mark.skipif(os.name == "nt", reason="a folder in use cannot be taken away there")
def test_a_folder_that_is_gone_has_no_settings(library):
    (library / "its.ini").unlink()
    library.rmdir()
    with apart("reads_settings"):
        import reads_settings
    assert reads_settings.read is None


def test_settings_of_a_home_are_left_aside(tmp_path):
    """What is no file of settings there ended every drawing."""
    for folder in ("ezdxf", "named"):
        (tmp_path / folder).mkdir()
        (tmp_path / folder / "ezdxf.ini").write_text("no section")
    home = {"XDG_CONFIG_HOME": str(tmp_path), "EZDXF_CONFIG_FILE": str(tmp_path / "named" / "ezdxf.ini")}
    program = """if True:
        import os
        from diaphragm_fem.design.files.apart import apart
        before = dict(os.environ)
        with apart("ezdxf"):
            import ezdxf
        assert not ezdxf.options.loaded_config_files and dict(os.environ) == before
    """
    subprocess.run([sys.executable, "-P", "-c", program], env={**os.environ, **home}, check=True, timeout=60)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="pipes with names")
def test_pipes_named_like_settings_hold_up_no_drawing(tmp_path):
    """Each library opens a file of that name where it is loaded; nobody ever writes into these."""
    for name in ("matplotlibrc", "ezdxf.ini"):
        os.mkfifo(tmp_path / name)
    (tmp_path / "cone.toml").write_text(CONE)
    subprocess.run([sys.executable, "-P", "-c", DOORS], cwd=tmp_path, check=True, timeout=60)
