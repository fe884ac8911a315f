"""The contrast of every text that is seen on a page (WCAG 2.2, relative luminance and contrast
ratio), from the colours that the browser computed."""

from __future__ import annotations

from playwright.sync_api import Page

SCRIPT = """() => {
    const parts = (text) => (text.match(/[\\d.]+/g) ?? []).map(Number);
    const solid = (text) => { const [r, g, b, a = 1] = parts(text); return { rgb: [r, g, b], a }; };
    const over = (top, under) => top.rgb.map((one, at) => one * top.a + under[at] * (1 - top.a));
    const ground = (node) => {
        const layers = [];
        for (let at = node; at; at = at.parentElement) {
            const style = getComputedStyle(at);
            const stripe = /rgba?\\([^)]*\\)/.exec(style.backgroundImage);
            const colour = solid(stripe ? stripe[0] : style.backgroundColor);
            layers.push(colour);
            if (colour.a === 1) break;
        }
        return layers.reverse().reduce((under, top) => over(top, under), [255, 255, 255]);
    };
    const luminance = (rgb) => {
        const [r, g, b] = rgb.map((one) => one / 255)
            .map((one) => (one <= 0.04045 ? one / 12.92 : ((one + 0.055) / 1.055) ** 2.4));
        return 0.2126 * r + 0.7152 * g + 0.0722 * b;
    };
    const found = [];
    const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
    for (let text = walker.nextNode(); text; text = walker.nextNode()) {
        const node = text.parentElement;
        if (!text.data.trim() || !node.checkVisibility({ visibilityProperty: true })) continue;
        if (node.closest("script, style, noscript, symbol, defs, title")) continue;
        if (node.closest("svg title, svg desc, option")) continue;
        const style = getComputedStyle(node);
        const ink = solid(node instanceof SVGElement ? style.fill : style.color);
        const under = ground(node);
        let opacity = 1;
        for (let at = node; at; at = at.parentElement) opacity *= getComputedStyle(at).opacity;
        const seen = over({ rgb: ink.rgb, a: ink.a * opacity }, under);
        const [light, dark] = [luminance(seen), luminance(under)].sort((a, b) => b - a);
        const ratio = (light + 0.05) / (dark + 0.05);
        found.push([ratio, text.data.trim().slice(0, 60), node.id || node.tagName]);
    }
    return found;
}"""


def faint(page: Page, least: float) -> list[str]:
    """Texts whose contrast with what is behind them is less than ``least``."""
    found = page.evaluate(SCRIPT)
    assert len(found) > 20, "it looks at the page's texts"
    return [f"{ratio:.2f}: {text} ({where})" for ratio, text, where in found if ratio < least]
