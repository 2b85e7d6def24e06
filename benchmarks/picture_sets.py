"""Which contents the engine's constants were set on, and which only judge them."""

from picture_contents import (
    PULLDOWN,
    Content,
    barred,
    coloured,
    crawling,
    cutting,
    dimmed,
    fading,
    flashing,
    game,
    made,
    menu,
    noisy,
    panning,
    real,
    screensaver,
    slideshow,
    slowed,
    snowfall,
    ticker,
)

TUNING: dict[str, Content] = {
    "bikes": real("bikes.mp4"),
    "bikes-30p-noisy": noisy(real("bikes.mp4", (2,)), 2.5, 1),
    "testsrc2": made("testsrc2=size={size}:rate=60"),
    "mandelbrot": made("mandelbrot=size={size}:rate=60:maxiter=300"),
    "menu": menu(30, 3),
    "crawl-up": crawling(2, 4, sideways=False),
    "bikes-fading": fading(real("bikes.mp4"), 200),
    "bunny": real("bigbuckbunny.mp4"),
    "bunny-30p": real("bigbuckbunny.mp4", (2,)),
    "carphone": real("carphone_pristine.mp4", (2,)),
    "carphone-noisy": noisy(real("carphone_pristine.mp4", (2,)), 3.0, 5),
    "bunny-dark": dimmed(real("bigbuckbunny.mp4"), 0.2, 12),
    "life": made(
        "life=size={size}:rate=60:mold=10:ratio=0.1:death_color=#c83232:life_color=#00ff00"
    ),
    "gradients": made("gradients=size={size}:rate=60:n=6:speed=0.02:seed=4"),
    "menu-slow": menu(60, 8),
    "crawl-sideways": crawling(5, 9, sideways=True),
    "carphone-flashing": flashing(real("carphone_pristine.mp4"), 150),
    "carphone-distorted": real("carphone_distorted.mp4", (2,)),
    "zoneplate": made("zoneplate=size={size}:rate=60:kx2=40:ky2=40:kt=2"),
    "crawl-fast": crawling(9, 21, sideways=True),
    "pan-brick-grain": noisy(panning("brick.png", 700), 4.0, 71),
    "slides-growing": slideshow(("coffee.png", "rocket.jpg", "astronaut.png"), 150, 30, 4e-4),
    "game-coins": game(72, 12, "coins.png", 0),
    "snow-on-moon": snowfall(panning("moon.png", 1500), 250, 73),
}
"""Looked at while the constants were set."""

JUDGING: dict[str, Content] = {
    "street-10p": barred(real("vtest.avi", (6,), 80), 0.125, sides=True),
    "street-60p-grain": noisy(real("vtest.avi", most=200, start=300), 1.5, 11),
    "tree-15p": real("tree.avi", (4,), 60),
    "film-24p-bars": barred(noisy(real("bikes.mp4", PULLDOWN, 120, 120), 1.2, 12), 0.13),
    "pan-grain": noisy(panning("motorcycle_left.png", 420), 4.0, 13),
    "pan-grass": panning("grass.png", 900),
    "slides-dissolving": slideshow(("chelsea.png", "page.png", "gravel.png"), 120, 40, 6e-4),
    "game": game(14, 20, "brick.png", 4),
    "game-still-level": game(15, 3, "motorcycle_right.png", 0),
    "screensaver": screensaver(16),
    "night": noisy(dimmed(real("vtest.avi", (2,), 120, 500), 0.11, 9), 1.5, 17),
    "ticker": ticker("astronaut.png", 3, 18),
    "stars": panning("hubble_deep_field.jpg", 1200, 1.3),
    "snowfall": snowfall(panning("chelsea.png", 2000), 400, 19),
    "stage-lights": coloured(real("carphone_pristine.mp4", (2,)), 45),
    "cuts": cutting((real("bikes.mp4", most=60), panning("coffee.png", 600)), 37),
    "face-slow": slowed(real("carphone_pristine.mp4", most=60), 5),
    "credits": crawling(1, 20, sideways=False),
    "cellauto": made("cellauto=size={size}:rate=60:rule=110:seed=5"),
    "sierpinski": made("sierpinski=size={size}:rate=60:seed=6"),
    "testsrc": made("testsrc=size={size}:rate=60"),
    "colour-sweep": made("rgbtestsrc=size={size}:rate=60,hue=h=t*90"),
    "retina-fading": fading(noisy(panning("retina.jpg", 800), 1.0, 22), 240),
}
"""Nothing was changed for their sake."""

CAPTURE_NOISE = {
    "bunny": 1.5,
    "crawl-up": 1.0,
    "carphone": 2.0,
    "slides-growing": 1.0,
    "tree-15p": 1.5,
    "slides-dissolving": 2.0,
    "game": 1.0,
    "face-slow": 1.5,
    "credits": 1.0,
    "testsrc": 2.5,
    "cuts": 2.0,
}
"""Noise behind the unit, levels (standard deviation): on a frozen picture, too."""

STANDING_STILL = ("menu", "menu-slow")
"""In these nothing moves for as long as a freeze lasts: one in them cannot be told from none."""
