"""The page that is left behind: on a phone the photo and the first drawn pair fill the first screen."""

import re

from tests.journeys import browsing

#: Words on a screen of a phone beside the headings, which are names: as many as in the terminal's answer.
A_SCREEN = 60

WORDS_ABOVE = """(foot) => {
    const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT), said = [];
    while (walk.nextNode()) {
        const place = document.createRange();
        place.selectNodeContents(walk.currentNode);
        const box = place.getBoundingClientRect();
        if (box.width > 1 && box.height > 1 && box.bottom > 0 && box.top < foot
            && !walk.currentNode.parentElement.closest("h1, h3, .skip")
            && walk.currentNode.parentElement.checkVisibility()) said.push(walk.currentNode.textContent);
    }
    return said.join(" ");
}"""


def test_the_page_answers_first_and_in_few_words(analyser, samples, demo_stock, tmp_path):
    photo = samples / "outfit-scarf-with-cards.jpg"
    analyser("colourway", photo, "--stock", demo_stock, "--length", "18cm", "--out", tmp_path)
    (path,) = tmp_path.glob("*.html")
    with browsing.opened_browser() as browser:
        page = browser.new_page(viewport={"width": 390, "height": 844})
        page.goto(path.as_uri())
        feet = page.eval_on_selector_all(
            ".pair > .line", "(all) => all.map((e) => e.getBoundingClientRect().bottom)"
        )
        for height, most in ((844, A_SCREEN), (2 * 844, 2 * A_SCREEN)):
            words = re.findall(r"[a-z]+", page.evaluate(WORDS_ABOVE, height), re.IGNORECASE)
            assert 0 < len(words) <= most, words
        assert feet[0] < 844
        assert feet[2] < 2 * 844
        page.close()
