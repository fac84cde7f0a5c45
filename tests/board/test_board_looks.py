"""How the board looks, measured on what Chromium draws: height, contrast, room, no overlap."""

import io
import json
import math

import pytest
from browser import CHROMIUM, FLAGS, PATIENCE, arrive, caught_up, opened, reach, settled
from PIL import Image
from seated import PLAN, Chair

from sidecue.board.drawings import drawing
from sidecue.board.sizes import Viewing, good_for
from sidecue.conductor.running import MICROPHONE, DeviceChange

pytestmark = pytest.mark.xdist_group("browser")

# Every text that is seen, with its colours, size and place.
TEXTS = """() => {
  const seen = [];
  const walker = document.createTreeWalker(document.getElementById('run'), NodeFilter.SHOW_TEXT);
  const solid = (element) => {
    for (let each = element; each; each = each.parentElement) {
      const colour = getComputedStyle(each).backgroundColor;
      if (!/, 0\\)$|transparent/.test(colour)) return colour;
    }
    return 'rgb(255, 255, 255)';
  };
  while (walker.nextNode()) {
    const node = walker.currentNode;
    const element = node.parentElement;
    if (!node.data.trim() || !element.checkVisibility({visibilityProperty: true})) continue;
    if (element.closest('svg')) continue;
    const range = document.createRange();
    range.selectNodeContents(node);
    const boxes = [...range.getClientRects()].map((r) => [r.left, r.top, r.right, r.bottom]);
    const style = getComputedStyle(element);
    seen.push({text: node.data.trim(), ink: style.color, paper: solid(element), boxes,
      size: parseFloat(style.fontSize)});
  }
  return seen;
}"""
STEPS = ("etch-dentine", "polish", "sign-in")
SIZES = ((320, 640), (768, 1024), (1280, 720), (1920, 1080), (2560, 1080), (3840, 2160))


@pytest.fixture(scope="module", params=STEPS)
def chair(request):
    seated = Chair(viewing=Viewing(32, 2.0))
    seated.go_to(request.param)
    yield seated
    seated.stop()


def luminance(colour):
    """Relative luminance, as WCAG 2.2 defines it."""
    channels = [int(each) / 255 for each in colour[colour.index("(") + 1 : -1].split(",")[:3]]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one, other):
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


@pytest.fixture(scope="module")
def shown(chair, chromium):
    """One page on a large screen; tests resize and dress it."""
    page = opened(chromium, chair.url)
    yield page
    page.context.close()


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_every_text_has_a_contrast_of_seven(shown, theme):
    """WCAG 2.2 criterion 1.4.6 asks 7:1 of text. It counts lightness alone, so it holds in grey."""
    shown.emulate_media(color_scheme=theme)
    texts = shown.evaluate(TEXTS)
    assert len(texts) > 8
    low = [(t["text"], c) for t in texts if (c := contrast(t["ink"], t["paper"])) < 7]
    assert low == []


@pytest.mark.parametrize(("width", "height"), SIZES)
def test_nothing_overlaps_or_leaves_the_screen(shown, width, height):
    shown.set_viewport_size({"width": width, "height": height})
    settled(shown)
    boxes = [(t["text"], box) for t in shown.evaluate(TEXTS) for box in t["boxes"]]
    outside = [each for each in boxes if each[1][0] < -1 or each[1][2] > width + 1]
    assert outside == []
    if width >= 760:  # a narrow one scrolls
        assert [each for each in boxes if each[1][3] > height + 1] == []
    for number, (text, one) in enumerate(boxes):
        for other_text, other in boxes[number + 1 :]:
            across = min(one[2], other[2]) - max(one[0], other[0])
            down = min(one[3], other[3]) - max(one[1], other[1])
            # Lines stand close: their boxes may touch, their letters may not.
            tall = min(one[3] - one[1], other[3] - other[1])
            assert across <= 1 or down <= 0.3 * tall, (text, other_text)


def test_no_text_or_key_is_cut_off_on_a_narrow_screen(shown):
    shown.set_viewport_size({"width": 320, "height": 640})
    settled(shown)
    cut = shown.evaluate("""() => [...document.querySelectorAll('#run *')].filter((each) => {
      const style = getComputedStyle(each);
      return style.overflowY === 'hidden' && each.scrollHeight > each.clientHeight + 2
        && each.textContent.trim();
    }).map((each) => each.className)""")
    assert cut == []


def test_nothing_moves_by_itself_whether_asked_or_not(shown):
    """A new word is there at once: to fade in would only make it late."""
    for wish in ("no-preference", "reduce"):
        shown.emulate_media(reduced_motion=wish)
        moving = shown.evaluate("""() => [...document.querySelectorAll('body, body *')].filter(
          (each) => { const style = getComputedStyle(each);
            return style.animationName !== 'none' || style.transitionDuration !== '0s'; })
          .map((each) => each.outerHTML)""")
        assert moving == [], wish


# The fullest steps of the visit: three things to hand, two cautions, two timers, long names.
FULLEST = ("etch-dentine", "rinse-etch", "cure-lingual", "flush-lines")


def test_letters_on_the_screenshot_are_as_high_as_the_distance_asks(screen):
    """On the screens people have, from as far as each is good for and 3 m at most: the step, each
    caution, each thing to hand, each timer's number and what was heard fill 22 minutes of arc.
    At 3 m that is 19.2 mm; on 27 inches and 1920 x 1080 3.21 pixels a mm, so 61.7 pixels."""
    seated = Chair()
    viewings = [Viewing(inch, min(3.0, good_for(inch))) for inch in (27, 15.6, 21.5, 24, 32)]
    address = [
        f"{seated.url}?screen={each.diagonal_inches}&distance={each.distance_m}"
        for each in viewings
    ]
    stays, comes = screen(address[0]), screen(address[1])
    try:
        for step in FULLEST:
            comes.goto("about:blank")  # one page follows all the way, the other comes to the step
            seated.go_to(step)
            for at, viewing in enumerate(viewings):
                where = (viewing, step)
                page = comes if at else stays
                if at:
                    reach(page, address[at])
                    arrive(page, "document.body.dataset.link === 'live'")
                caught_up(page, seated)
                settled(page)
                assert "too small" not in page.text_content("#reach"), where
                least = viewing.pixels(viewing.least_mm, 1920, 1080)
                for one in ("#say span", "#cautions li"):  # in ink: a bold letter and a plain one
                    assert letter_height(page, one) >= least - 1, (where, one)
                matters = page.evaluate(MATTERS)
                assert len(matters) >= 5
                plain = min(size for kind, _, size in matters if kind == "LI")
                assert [each for each in matters if each[2] < plain - 0.1] == [], where
    finally:
        seated.stop()


MATTERS = """() => [...document.querySelectorAll(
    '#say span, #cautions li, #hand .name, #clocks .number, #heard .words')]
  .map((each) => [each.tagName, each.textContent, parseFloat(getComputedStyle(each).fontSize)])"""


@pytest.mark.parametrize(("width", "height"), SIZES)
def test_every_phrase_that_counts_now_is_on_the_screen(shown, chair, width, height):
    shown.set_viewport_size({"width": width, "height": height})
    settled(shown)
    offered = {row["phrase"] for row in chair.shown["phrases"] if row["group"] != "later"}
    assert len(offered) > 12
    seen = shown.evaluate("""() => [...document.querySelectorAll('#run .phrase')].filter((each) => {
        const { left, right, top, bottom, height } = each.getBoundingClientRect();
        const low = innerWidth < 760 ? document.documentElement.scrollHeight : innerHeight;
        return height > 0 && left >= 0 && right <= innerWidth + 1 && top >= 0 && bottom <= low + 1;
      }).map((each) => each.textContent)""")  # fmt: skip
    assert offered == set(seen)


def letter_height(page, selector):
    """Rows of ink of the first letter (a capital or a digit), on the screenshot."""
    box = page.evaluate("""(selector) => {
      const text = document.querySelector(selector).firstChild;
      const range = document.createRange();
      range.setStart(text, 0); range.setEnd(text, 1);
      const {x, y, width, height} = range.getBoundingClientRect();
      return {x, y, width, height};
    }""", selector)  # fmt: skip
    picture = Image.open(io.BytesIO(page.screenshot(clip=box))).convert("L")
    paper = picture.getpixel((0, 0))
    # A letter begins and ends within a pixel: such a row counts from a quarter of the full ink on.
    full = max(abs(value - paper) for value in picture.getextrema())
    ink = picture.point([255 if abs(value - paper) > full / 4 else 0 for value in range(256)])
    _, top, _, bottom = ink.getbbox()
    return bottom - top


def test_the_page_with_all_that_a_visit_shows_is_under_200_kb(chromium):
    """The page, its parts and every drawing of the visit; not the news."""
    seated = Chair()
    page = chromium.new_page()
    page.set_default_timeout(PATIENCE * 1000)
    answers = []
    page.on("response", lambda answer: answers.append(answer))  # noqa: PLW0108 - it is marked
    try:
        page.goto(seated.url)
        page.wait_for_selector("body[data-link=live]")
        settled(page)
        names = {each.url.removeprefix(seated.url): each for each in answers}
        parts = [name for name in names if not name.startswith(("drawings/", "news"))]
        assert "parts/app.js" in parts
        sizes = [len(names[name].body()) for name in parts]
    finally:
        page.close()
        seated.stop()
    drawn = {item for step in PLAN.steps for item in step.hand}
    assert len(drawn) > 30
    assert sum(sizes) + sum(len(drawing(item).encode()) for item in drawn) < 200_000


# What must be on the screen whatever happens, and whether all of it is there.
WHOLE = """() => {
  const end = (id) => document.getElementById(id).getBoundingClientRect().bottom;
  return {
    cut: ['link', 'say', 'cautions', 'hand', 'clocks', 'ear', 'heard', 'main-phrases']
      .filter((id) => end(id) > innerHeight + 1),
    wide: document.documentElement.scrollWidth > innerWidth,
  };
}"""
FITS = {"cut": [], "wide": False}


def test_nothing_that_matters_is_pushed_off_the_screen(screen):
    """By a drawing that comes late, a lost microphone, a lost line or a question."""
    seated = Chair()  # 27 inches at three metres: the fullest screen
    try:
        page = screen(seated.url)
        for step in ("check-cartridge", "etch-dentine"):
            seated.go_to(step)
            arrive(page, f"document.title.startsWith('{step.replace('-', ' ')}')")
            settled(page)
            assert page.evaluate(WHOLE) == FITS, step
        seated.type("what about lunch and the weather this afternoon")
        seated.board.metered(seated._source)
        seated.commands.put(DeviceChange(MICROPHONE, present=False))
        arrive(page, "document.querySelector('#ear').dataset.state === 'lost'")
        settled(page)
        assert page.evaluate(WHOLE) == FITS, "microphone lost"
        page.context.set_offline(True)
        for line in list(seated.board._server._server.server_state.connections):
            line.transport.abort()
        arrive(page, "document.body.dataset.link === 'lost'")
        settled(page)
        assert page.evaluate(WHOLE) == FITS, "connection lost"
        assert page.locator("#link").bounding_box()["y"] == 0
        page.context.set_offline(False)
        arrive(page, "document.body.dataset.link === 'live'")
        settled(page)
        assert page.evaluate(WHOLE) == FITS, "connected again"
    finally:
        seated.stop()


def test_what_is_read_differs_from_its_paper_seven_times_on_the_grey_picture(chair, shown):
    """Measured on the pixels, colours taken away: the darkest against the lightest of each line."""
    shown.set_viewport_size({"width": 1920, "height": 1080})
    for theme in ("light", "dark"):
        shown.emulate_media(color_scheme=theme, reduced_motion="reduce")
        settled(shown)
        grey = Image.open(io.BytesIO(shown.screenshot())).convert("L")
        for name in ("#say span", "#case", "#main-phrases .phrase", "#heard .words"):
            box = shown.locator(name).first.bounding_box()
            part = grey.crop(
                (box["x"], box["y"], box["x"] + box["width"], box["y"] + box["height"])
            )
            dark, light = (f"rgb({each}, {each}, {each})" for each in part.getextrema())
            assert contrast(dark, light) >= 7, (theme, name)


@pytest.fixture(scope="module")
def zoomed(chromium, tmp_path_factory):
    """A window of 1920 x 1080 at 200 %: the browser's own zoom, as a profile keeps it (its levels
    are powers of 1.2)."""
    folder = tmp_path_factory.mktemp("zoomed")
    (folder / "Default").mkdir()
    zoom = {"partition": {"default_zoom_level": {"x": math.log(2, 1.2)}}}
    (folder / "Default" / "Preferences").write_text(json.dumps(zoom))
    window = ("--window-size=1920,1080", "--screen-info={1920x1080}")
    context = chromium.browser_type.launch_persistent_context(
        folder, executable_path=CHROMIUM, args=[*FLAGS, *window], no_viewport=True,
        timeout=PATIENCE * 1000,
    )  # fmt: skip
    yield context.pages[0]
    context.close()


LETTERS = "parseFloat(getComputedStyle(document.querySelector('#say')).fontSize)"


def test_zoomed_to_200_percent_it_scrolls_one_way_only(chair, shown, zoomed):
    """WCAG 2.2 criterion 1.4.4: at 200 % nothing is lost."""
    shown.set_viewport_size({"width": 1920, "height": 1080})
    settled(shown)
    page = zoomed
    page.goto(chair.url)
    assert page.evaluate("[innerWidth, devicePixelRatio]") == [960, 2]
    arrive(page, "document.body.dataset.link === 'live'")
    settled(page)
    boxes = [(t["text"], box) for t in page.evaluate(TEXTS) for box in t["boxes"]]
    high = page.evaluate("document.documentElement.scrollHeight")
    assert [each for each in boxes if each[1][2] > 961 or each[1][3] > high + 1] == []
    assert not page.evaluate("document.documentElement.scrollWidth > innerWidth")
    larger = 2 * page.evaluate(LETTERS)
    assert larger >= 1.3 * shown.evaluate(LETTERS), "zooming in makes letters larger"
