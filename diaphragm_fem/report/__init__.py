"""What people see of an answer, and other programs: read from results, nothing computed.

Read in this order, which is that of imports too; a file that bears the name of its folder is the way into it.

1. `stamp`        where something came from: file, fingerprint, date
   `blocks/`      what a page is made of: `blocks`, tables among them; `pages` sets them as Markdown and HTML
2. `words/`       what is said: `words`, numbers as people write them; `study`, `figures`: what figures are called
   `verdict`      one design in plain words, from `sentences`, `driver` and levers; `trust`: how far to trust it
   beside it: `differences` of a comparison, `walls`, `measured`
3. `contents/`    a page block by block, the same on screen, as Markdown and as HTML: `summary` of one design and its
   `tables`; `stroke`, `comparison`, `walls`, `morning` with `winner` and `scatter`, `verification`
4. `sheets/`      figures on paper: `listing*` name them all; `page/`: pages that move in a browser
   `files/`       columns of numbers by what they are of; `meaning` of each; `curves`, `shapes`, `drawing` for others
5. `results/`     3 and 4 put into the folder of one run: `folder` is written whole or not at all
   `explorer/`    sliders on this machine; `terminal`: blocks as lines

SI in; people read units of the trade, files hold SI.
"""
