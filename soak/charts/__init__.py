"""Small SVG charts from numpy arrays: for print, in grey, on a phone and for screen readers.

Every chart is a function that returns the text of one `<svg>` element, its words said by the `say`
that it is given. It needs nothing but numpy, holds no style sheet, no script and no reference to
anything outside itself.
"""
