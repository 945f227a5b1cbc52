"""Widgets in the theme's colours: text at least 7:1, edges at least 3:1, targets at least 44 px."""

from loomlight.viewer.theme import Theme

TARGET_PIXELS = 44


def style_sheet(theme: Theme, *, text_size: int = 100) -> str:
    """Qt style sheet of one theme, its letters in a size of so many percent."""
    small, large, title, headline, place, tool = (
        round(pixels * text_size / 100) for pixels in (15, 16, 18, 20, 98, 12)
    )
    return f"""
QWidget {{ background: {theme.panel}; color: {theme.text}; }}
QLabel {{ background: transparent; }}
QLabel#quiet {{ color: {theme.quiet_text}; }}
QLabel#large {{ font-size: {large}px; }}
QLabel#headline {{ font-size: {headline}px; font-weight: bold; }}
QLabel#pageTitle {{ font-size: {title}px; font-weight: bold; }}
QFrame#card {{ background: {theme.raised}; border: 1px solid {theme.rule}; border-radius: 4px; }}
QFrame#card QLabel {{ background: transparent; }}
QPushButton, QToolButton {{
    background: {theme.raised}; color: {theme.text}; border: 1px solid {theme.rule}; border-radius: 4px;
    min-height: {TARGET_PIXELS - 2}px; padding: 0 12px;
}}
QToolButton {{ padding: 0 8px; }}
QToolButton#tool {{ padding: 0 2px; font-size: {tool}px; min-width: {TARGET_PIXELS - 6}px; }}
QFileDialog QToolButton {{ padding: 0; min-width: {TARGET_PIXELS - 2}px; max-width: {TARGET_PIXELS - 2}px; }}
QFileDialog QTreeView::item, QFileDialog QListView::item {{ min-height: {TARGET_PIXELS}px; }}
QPushButton#whole {{ text-align: left; padding-left: 10px; }}
QPushButton:hover, QToolButton:hover {{ border: 2px solid {theme.text}; }}
QPushButton:focus, QToolButton:focus, QRadioButton:focus, QComboBox:focus, QLineEdit:focus, QPlainTextEdit:focus,
QListWidget:focus, QTableView:focus {{ border: 3px solid {theme.accent}; }}
QPushButton:checked, QToolButton:checked {{ background: {theme.text}; color: {theme.ground}; }}
QPushButton:pressed, QToolButton:pressed {{ background: {theme.grid}; }}
QPushButton:disabled, QToolButton:disabled, QComboBox:disabled, QLineEdit:disabled {{
    color: {theme.quiet_text}; border: 1px dashed {theme.rule};
}}
QPushButton#main {{ background: {theme.text}; color: {theme.ground}; font-weight: bold; }}
QPushButton#main:disabled {{ background: {theme.panel}; color: {theme.quiet_text}; }}
QPushButton#place {{ text-align: left; font-size: {small}px; padding-left: 8px; min-height: 54px; min-width: {place}px; }}
QPushButton#place:checked {{
    background: {theme.ground}; color: {theme.text}; font-weight: bold; border: 1px solid {theme.rule};
    border-left: 6px solid {theme.text};
}}
QPushButton#part {{ padding: 0 8px; }}
QPushButton#part:checked {{
    background: {theme.ground}; color: {theme.text};
    border: 1px solid {theme.rule}; border-bottom: 5px solid {theme.text};
}}
QRadioButton {{ min-height: {TARGET_PIXELS}px; spacing: 10px; }}
QRadioButton::indicator {{ width: 22px; height: 22px; }}
QLineEdit, QComboBox, QPlainTextEdit {{
    background: {theme.raised}; color: {theme.text}; border: 1px solid {theme.rule}; border-radius: 4px;
    min-height: {TARGET_PIXELS - 2}px; padding: 0 8px; selection-background-color: {theme.text};
    selection-color: {theme.ground};
}}
QLineEdit {{ placeholder-text-color: {theme.quiet_text}; }}
QPlainTextEdit {{ padding: 4px 8px; }}
QListWidget::item:disabled {{ color: {theme.quiet_text}; }}
QComboBox::drop-down {{ border: 0; width: 34px; }}
QComboBox QAbstractItemView {{ background: {theme.raised}; color: {theme.text}; selection-background-color: {theme.text};
    selection-color: {theme.ground}; }}
QComboBox QAbstractItemView::item {{ min-height: {TARGET_PIXELS}px; }}
QListWidget, QTableView {{
    background: {theme.raised}; color: {theme.text}; border: 1px solid {theme.rule};
    selection-background-color: {theme.text}; selection-color: {theme.ground}; gridline-color: {theme.grid};
}}
QListWidget {{ min-height: {TARGET_PIXELS}px; }}
QListWidget::item {{ min-height: {TARGET_PIXELS}px; padding: 0 6px; }}
QMenu {{ background: {theme.raised}; border: 1px solid {theme.rule}; }}
QMenu::item {{ min-height: {TARGET_PIXELS}px; padding: 0 22px 0 34px; }}
QMenu::item:selected {{ background: {theme.text}; color: {theme.ground}; }}
QMenu::item:disabled {{ color: {theme.quiet_text}; font-weight: bold; }}
QMenu::separator {{ background: {theme.rule}; height: 1px; }}
QMenu::indicator {{ left: 10px; }}
QTableCornerButton::section {{ background: {theme.panel}; border: 0; border-bottom: 1px solid {theme.rule}; }}
QHeaderView::section {{ background: {theme.panel}; color: {theme.text}; border: 0; border-bottom: 1px solid {theme.rule};
    padding: 6px; font-weight: bold; }}
QScrollBar:vertical {{ background: {theme.panel}; width: 18px; }}
QScrollBar:horizontal {{ background: {theme.panel}; height: 18px; }}
QScrollBar::handle {{ background: {theme.rule}; border-radius: 4px; min-height: 44px; min-width: 44px; }}
QScrollBar::add-line, QScrollBar::sub-line {{ width: 0; height: 0; }}
QProgressBar {{ background: {theme.raised}; color: {theme.text}; border: 1px solid {theme.rule}; text-align: center;
    min-height: {TARGET_PIXELS - 2}px; }}
QProgressBar::chunk {{ background: {theme.grid}; }}
QSplitter::handle {{ background: {theme.grid}; }}
QToolTip {{ background: {theme.raised}; color: {theme.text}; border: 1px solid {theme.rule}; }}
QFrame#strip {{ background: {theme.raised}; border: 2px solid {theme.text}; border-radius: 4px; }}
"""
