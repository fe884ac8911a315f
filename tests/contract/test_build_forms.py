"""The forms of a build's page: it is closed for a reason, and made the active one."""

from __future__ import annotations

from typing import Any

from lxml import html

from tests.contract.test_build_pages import page_of, shown, words
from tests.contract.trade import Bench


async def test_a_build_is_closed_and_made_active_by_the_forms_of_its_page(bench: Bench) -> None:
    await bench.open()
    first = page_of(bench)
    await bench.open()
    second = page_of(bench)

    def fields(page: Any, act: str) -> dict[str, str]:
        (form,) = [one for one in page.forms if one.action == act]
        return {str(name): str(value) for name, value in form.form_values()}

    page = await shown(bench, first)
    activate, close = f"{first}/activate", f"{first}/close"
    assert f"{second}/activate" not in {one.action for one in (await shown(bench, second)).forms}
    for path in (activate, close):
        strange = await bench.http.post(path, headers={"Origin": "http://evil.example"}, data={})
        assert strange.status_code == 403
        again = await bench.http.get(f"{path}?language=de")
        assert (again.status_code, again.headers["location"]) == (303, f"{first}?language=de")
    done = await bench.http.post(activate, data=fields(page, activate))
    assert (done.status_code, done.headers["location"]) == (303, f"{first}?did=activate")
    assert "placed on this build from now on" in words(await shown(bench, f"{first}?did=activate"))
    assert (await bench.get(f"/v1{first}"))["active"]

    given = fields(page, close)
    for wrong, says in (
        ({"reason": " "}, "Write the reason"),
        ({"reason": "x" * 2001}, "Write the reason"),
        ({"reason": "Done.", "operator": "a\x07"}, "Write a name"),
    ):
        refused = await bench.http.post(close, data={**given, **wrong})
        assert refused.status_code == 422
        assert says in words(html.fromstring(refused.content))
    assert "Done." in refused.text  # what was written is not lost
    assert not (await bench.get(f"/v1{first}"))["closed"]
    sent = {**given, "reason": " Done. ", "operator": "First"}
    for _ in range(2):  # pressed twice
        done = await bench.http.post(close, data=sent)
        assert (done.status_code, done.headers["location"]) == (303, f"{first}?did=close")
    page = await shown(bench, f"{first}?did=close")
    assert "The build is closed." in words(page)
    assert "Build closed Done." in words(page.get_element_by_id("story"))
    assert "First" in words(page.get_element_by_id("story"))
    assert not page.forms
    late = await bench.http.post(close, data={"reason": "Again."}, headers={"Accept": "text/html"})
    assert late.status_code in (409, 422)
    assert "closed" in words(html.fromstring(late.content))
