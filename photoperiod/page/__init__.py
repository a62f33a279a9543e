"""One self-contained page of a tank: pictures in ink, the numbers behind them, and what to do.

Each picture is a `Figure`: shapes and words in user units, which one template draws as SVG. What a picture
shows is worked out in a module of its own; `render` puts them together.
"""
