"""The editor of one document: one screen, and a module for each thing that is done there.

`screen` is the page and its keys; `document` what was loaded and where one stands in it,
`contents` its values with everybody's pencil, `columns` how they are drawn, `judgement` what
figures and checks say of it, `wording` the lines about it. `typing_value` and `adding` are its
modes (finding is any page's); what its keys do stands in `pencil` (undo, rub out, decide),
`moving` (sections, the last change) and `pages` (ink, trace, figures, help).
"""

from tui.screens.editor.screen import Editor

__all__ = ["Editor"]
