"""The web interface by its own description: whatever is asked, no answer is a failure."""

from collections.abc import Iterator

import pytest
import schemathesis
from hypothesis import given
from hypothesis import strategies as st
from schemathesis.core.result import Ok

from monitor.model import Role
from tests.fuzzing import drawn
from tests.web.desk import SmallDesk, furnished
from tests.web.everyone import People, everyone


@pytest.fixture(scope="module")
def people(tmp_path_factory: pytest.TempPathFactory) -> Iterator[People]:
    """Yield someone signed in with each role, over a farm of their own."""
    desk: SmallDesk = furnished(tmp_path_factory.mktemp("desk") / "farm")
    yield everyone(desk)
    desk.close()


@pytest.mark.parametrize("role", [None, *Role], ids=str)
def test_no_request_that_the_description_allows_fails(people: People, role: Role | None) -> None:
    """With each role and without, sound values and unsound ones: an answer below 500."""
    browser = people.by_role[role]
    schema = schemathesis.openapi.from_dict(browser.app.openapi())
    found = [each for each in schema.get_all_operations() if isinstance(each, Ok)]
    operations = [each.ok() for each in found if each.ok().path != "/live"]
    assert len(operations) > 5

    answered: set[int] = set()

    @drawn(25)
    @given(st.data())
    def ask(data: st.DataObject) -> None:
        operation = data.draw(st.sampled_from(operations))
        case = data.draw(operation.as_strategy())
        sent = case.as_transport_kwargs(base_url=browser.site)
        answer = browser.ask(
            sent.pop("method"), sent.pop("url"),
            headers={**(sent.pop("headers", None) or {}), **browser.own_page()},
            **{key: sent[key] for key in ("params", "json", "data", "content") if sent.get(key)},
        )  # fmt: skip
        assert answer.status_code < 500, answer.text
        answered.add(answer.status_code)

    ask()
    assert answered & ({401, 303} if role is None else {200})
