"""Forms as a browser sends them: every field of the page, with some typed over."""

from html.parser import HTMLParser

from tests.web.visiting import Visitor

Fields = dict[str, list[str]]


class _Forms(HTMLParser):
    """Collects each form's action and the fields that a browser would send unasked."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[tuple[str, Fields]] = []
        self._select = ""
        self._first = True
        self._text = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Take what a form holds."""
        told = {key: value or "" for key, value in attrs}
        if tag == "form":
            self.found.append((told.get("action", ""), {}))
        name = told.get("name", "")
        if not self.found:
            return
        if tag == "input" and name and told.get("type") not in {"checkbox", "radio"}:
            self._put(name, told.get("value", ""))
        elif tag == "input" and name and "checked" in told:
            self._put(name, told.get("value", "on"))
        elif tag == "select":
            self._select, self._first = name, True
        elif tag == "option" and self._select and (self._first or "selected" in told):
            self.found[-1][1][self._select] = [told.get("value", "")]
            self._first = False

    def handle_endtag(self, tag: str) -> None:
        """End a choice."""
        if tag == "select":
            self._select = ""

    def _put(self, name: str, value: str) -> None:
        self.found[-1][1].setdefault(name, []).append(value)


def forms(page: str, action: str) -> list[Fields]:
    """Return the fields of the forms of a page that lead to a path."""
    parser = _Forms()
    parser.feed(page)
    return [fields for leads_to, fields in parser.found if leads_to == action]


def filled(
    visitor: Visitor, page: str, action: str, form: str = "", **typed: str | list[str]
) -> Fields:
    """Return a page's form with some fields typed over; ``a__b`` stands for ``a.b``."""
    found = forms(visitor.get(page).text, action)
    fields = next(each for each in found if each.get("form", [""]) == [form])
    for name, value in typed.items():
        fields[name.replace("__", ".")] = [value] if isinstance(value, str) else value
    return fields
