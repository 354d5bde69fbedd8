"""Colours and type of the window, light and dark, and how they are put on."""

from __future__ import annotations

from dataclasses import dataclass

from PySide6.QtGui import QColor, QFont, QPalette
from PySide6.QtWidgets import QApplication

from farmmap.resource_files import resource_path

CHOICES = ("system", "light", "dark")
"""What a person may choose; ``system`` follows the computer's own setting."""

_MIDDLE_GREY = 128

LEAST_POINTS = 11.0
"""Smallest size of the window's text. [pt]"""


@dataclass(frozen=True)
class Theme:
    """Colours of the window, each ``#rrggbb``.

    Attributes
    ----------
    name : str
        ``light`` or ``dark``, as the scene names them too.
    window, base, raised : str
        Ground of the window, of tables and fields, and of buttons.
    text, quiet : str
        Words, and words of less weight.
    line, edge : str
        Rules and frames, and the edges of fields that can be filled in.
    accent, on_accent : str
        What is chosen, and words on it.
    warning : str
        Words that warn.
    """

    name: str
    window: str
    base: str
    raised: str
    text: str
    quiet: str
    line: str
    edge: str
    accent: str
    on_accent: str
    warning: str


LIGHT = Theme(
    "light",
    "#f3f1ea",
    "#fffefa",
    "#e9e6db",
    "#22261f",
    "#565c4f",
    "#c9c5b6",
    "#868373",
    "#2c6646",
    "#ffffff",
    "#9c2f14",
)
DARK = Theme(
    "dark", "#23262a", "#1a1d20", "#30343a", "#e9e8e1", "#b4b8b2", "#4a5058", "#7d858f", "#8fcaa5", "#10231a", "#ffb199"
)

_SHEET = """
QToolTip {{ background: {base}; color: {text}; border: 1px solid {line}; padding: 4px; }}
QMenuBar {{ background: {window}; padding: 2px; }}
QMenuBar::item {{ padding: 5px 10px; }}
QMenuBar::item:selected {{ background: {raised}; color: {text}; }}
QMenu::item {{ padding: 6px 26px 6px 22px; }}
QMenu::item:selected {{ background: {accent}; color: {on_accent}; }}
QHeaderView::section {{ background: {raised}; color: {text}; border: 0; border-right: 1px solid {line};
    border-bottom: 1px solid {line}; padding: 4px 6px; }}
QTableCornerButton::section {{ background: {raised}; border: 0; border-right: 1px solid {line};
    border-bottom: 1px solid {line}; }}
QHeaderView::section:focus {{ border-bottom: 2px solid {accent}; }}
QTableView {{ gridline-color: {line}; border: 1px solid {line}; outline: 0; }}
QTableView::item {{ padding: 2px 6px; }}
QTableView::item:selected:focus {{ border: 2px solid {on_accent}; padding: 0px 4px; }}
QLineEdit, QPlainTextEdit, QListWidget {{ background: {base}; border: 1px solid {edge}; border-radius: 3px;
    padding: 3px 4px; selection-background-color: {accent}; selection-color: {on_accent}; }}
QAbstractSpinBox {{ background: {base}; border: 1px solid {edge}; border-radius: 3px; padding: 3px 20px 3px 6px; }}
QAbstractSpinBox::up-button {{ subcontrol-position: top right; width: 18px; border: 0; }}
QAbstractSpinBox::down-button {{ subcontrol-position: bottom right; width: 18px; border: 0; }}
QAbstractSpinBox::up-arrow {{ image: url({icons}/up-{name}.svg); width: 10px; height: 6px; }}
QAbstractSpinBox::down-arrow{{ image: url({icons}/down-{name}.svg); width: 10px; height: 6px; }}
QPushButton, QToolButton[checkable="true"] {{ background: {raised}; color: {text}; border: 1px solid {edge};
    border-radius: 4px; padding: 5px 14px; }}
QPushButton:hover, QToolButton:hover {{ border-color: {accent}; }}
QPushButton:pressed {{ background: {line}; }}
QToolButton[checkable="true"]:checked {{ background: {accent}; color: {on_accent}; border-color: {accent}; }}
QPushButton:default {{ background: {accent}; color: {on_accent}; border-color: {accent}; }}
QPushButton:focus, QToolButton[checkable="true"]:focus {{ border: 2px solid {accent}; padding: 4px 13px; }}
QPushButton:default:focus, QToolButton[checkable="true"]:checked:focus {{ border: 2px solid {text}; }}
QPushButton:disabled, QToolButton:disabled {{ color: {quiet}; background: {window}; border-color: {line}; }}
QPushButton:flat {{ background: transparent; border: 1px solid transparent; }}
QComboBox {{ background: {base}; color: {text}; border: 1px solid {edge}; border-radius: 3px; padding: 3px 6px; }}
QComboBox:focus {{ border: 2px solid {accent}; padding: 2px 5px; }}
QComboBox:disabled {{ color: {quiet}; border-color: {line}; }}
QComboBox::drop-down {{ border: 0; width: 20px; }}
QComboBox::down-arrow {{ image: url({icons}/down-{name}.svg); width: 10px; height: 6px; }}
QComboBox QAbstractItemView {{ background: {base}; color: {text}; selection-background-color: {accent};
    selection-color: {on_accent}; border: 1px solid {edge}; }}
QToolButton[tool="true"] {{ padding: 5px 6px; }}
QToolButton[tool="true"]:focus {{ padding: 4px 5px; }}
QToolButton[tool="true"]::menu-indicator {{ image: none; }}
QToolButton[plain="true"], QToolButton[plain="true"]:checked {{ background: transparent; color: {text};
    border: 1px solid transparent; padding: 2px 8px; font-weight: 600; }}
QToolButton[plain="true"]:focus, QToolButton[plain="true"]:checked:focus {{ border: 1px solid {accent};
    padding: 2px 8px; }}
QToolButton[tab="true"] {{ padding: 3px 4px; border-color: {line}; border-bottom: 0; border-radius: 0;
    border-top-left-radius: 4px; border-top-right-radius: 4px; }}
QToolButton[tab="true"]:hover {{ border-color: {accent}; }}
QToolButton[tab="true"]:checked {{ background: {base}; color: {text}; border-color: {line}; font-weight: 600;
    border-top: 3px solid {accent}; padding: 1px 4px 3px 4px; }}
QToolButton[tab="true"]:focus, QToolButton[tab="true"]:checked:focus {{ border: 2px solid {accent}; padding: 2px 3px; }}
QStackedWidget[pane="true"] {{ border: 1px solid {line}; background: {base}; }}
QProgressBar {{ background: {window}; border: 1px solid {edge}; border-radius: 4px; }}
QProgressBar::chunk {{ background: {accent}; }}
BusyStrip {{ background: {base}; border: 1px solid {edge}; border-radius: 4px; }}
QCheckBox {{ spacing: 6px; }}
QCheckBox[indented="true"] {{ margin-left: 14px; }}
QCheckBox::indicator, QListView::indicator, QTableView::indicator {{
    width: 14px; height: 14px; border: 1px solid {edge}; border-radius: 3px; background: {base}; }}
QCheckBox::indicator:checked, QListView::indicator:checked, QTableView::indicator:checked {{
    background: {accent}; border-color: {accent}; image: url({icons}/tick-{name}.svg); }}
QListWidget::item {{ min-height: 20px; }}
QRadioButton {{ spacing: 6px; }}
QRadioButton::indicator {{
    width: 14px; height: 14px; border: 1px solid {edge}; border-radius: 8px; background: {base}; }}
QRadioButton::indicator:checked {{ border-color: {accent}; background: qradialgradient(cx:0.5, cy:0.5, radius:0.5,
    fx:0.5, fy:0.5, stop:0 {accent}, stop:0.6 {accent}, stop:0.7 {base}, stop:1 {base}); }}
QRadioButton::indicator:focus {{ border: 2px solid {text}; width: 12px; height: 12px; }}
QCheckBox::indicator:focus {{ border: 2px solid {text}; width: 12px; height: 12px; }}
QAbstractSpinBox QLineEdit, QComboBox QLineEdit {{ border: 0; padding: 0; }}
QLineEdit:focus, QPlainTextEdit:focus, QListWidget:focus, QAbstractSpinBox:focus {{ border: 2px solid {accent};
    padding: 2px 3px; }}
QAbstractSpinBox:focus {{ padding: 2px 19px 2px 5px; }}
QDateEdit::drop-down {{ subcontrol-position: center right; border: 0; width: 20px; }}
QDateEdit::down-arrow {{ image: url({icons}/down-{name}.svg); width: 10px; height: 6px; }}
QSplitter::handle {{ background: {line}; }}
QLineEdit[bad="true"], QLineEdit[bad="true"]:focus {{ border: 2px solid {warning}; padding: 2px 3px; }}
QLabel[quiet="true"] {{ color: {quiet}; }}
QLabel[warning="true"] {{ color: {warning}; }}
QLabel[heading="true"] {{ font-weight: 600; }}
"""


def theme_for(app: QApplication, choice: str) -> Theme:
    """Return the theme that a choice comes to on this computer now.

    Parameters
    ----------
    app : QApplication
        Asked for the system's setting.
    choice : str
        One of `CHOICES`.
    """
    if choice == "system":
        from PySide6.QtCore import Qt

        return DARK if app.styleHints().colorScheme() == Qt.ColorScheme.Dark else LIGHT
    return DARK if choice == "dark" else LIGHT


def first_theme(app: QApplication, choice: str) -> Theme:
    """Return `theme_for` told from the colours that the application began with.

    Asking Qt for the system's setting makes it load most of its names, which
    takes longer than all else that the first paint of the window needs.
    """
    if choice == "system":
        return DARK if app.palette().window().color().lightness() < _MIDDLE_GREY else LIGHT
    return DARK if choice == "dark" else LIGHT


def put_on(app: QApplication, theme: Theme) -> None:
    """Give the whole application a theme's colours."""
    app.setPalette(palette_of(theme))
    icons = resource_path("icons").as_posix()
    app.setStyleSheet(_SHEET.format(icons=icons, **vars(theme)))


def set_type(app: QApplication) -> None:
    """Use the system's own typeface, but never smaller than `LEAST_POINTS`."""
    font = QFont(app.font())
    font.setPointSizeF(max(font.pointSizeF(), LEAST_POINTS))
    app.setFont(font)


def palette_of(theme: Theme) -> QPalette:
    """Return Qt's palette for a theme."""
    role = QPalette.ColorRole
    colours = {
        role.Window: theme.window,
        role.WindowText: theme.text,
        role.Base: theme.base,
        role.AlternateBase: theme.window,
        role.Text: theme.text,
        role.Button: theme.raised,
        role.ButtonText: theme.text,
        role.BrightText: theme.warning,
        role.ToolTipBase: theme.base,
        role.ToolTipText: theme.text,
        role.PlaceholderText: theme.quiet,
        role.Highlight: theme.accent,
        role.HighlightedText: theme.on_accent,
        role.Accent: theme.accent,
        role.Link: theme.accent,
        role.LinkVisited: theme.accent,
        role.Mid: theme.line,
        role.Midlight: theme.raised,
        role.Light: theme.base,
        role.Dark: theme.quiet,
        role.Shadow: theme.line,
    }
    palette = QPalette()
    for which, colour in colours.items():
        palette.setColor(which, QColor(colour))
    for which in (role.WindowText, role.Text, role.ButtonText):
        palette.setColor(QPalette.ColorGroup.Disabled, which, QColor(theme.quiet))
    return palette
