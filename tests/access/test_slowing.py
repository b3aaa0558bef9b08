"""Guessing is slow for each account from each place, and for whoever floods."""

from monitor.access.slowing import FREE_TOGETHER, Slowing, Source, Turnstile, stranger

HERE = stranger("192.168.7.30")
PHONE = Source("device 1", known=True)


def test_three_failures_are_free_and_the_next_wait_doubles() -> None:
    """After three failures a device waits 2, 4, 8 s and so on, a minute at most."""
    slowing, now_s, waits = Slowing(), 0.0, []
    for _ in range(10):
        waits.append(slowing.wait_s("robin", PHONE, now_s))
        now_s += waits[-1]
        slowing.failed("robin", PHONE, now_s)
    assert waits == [0, 0, 0, 2, 4, 8, 16, 32, 60, 60]


def test_one_account_slows_no_other() -> None:
    """Failures at one name leave the others as they were."""
    slowing = Slowing()
    for _ in range(9):
        slowing.failed("robin", HERE, 5.0)
    assert slowing.wait_s("wren", HERE, 5.0) == 0
    assert slowing.wait_s("robin", HERE, 5.0) == 60


def test_who_guesses_slows_nobody_elsewhere() -> None:
    """A few failures from one address leave another address and a known device alone."""
    slowing = Slowing()
    for _ in range(FREE_TOGETHER - 1):
        slowing.failed("robin", HERE, 5.0)
    assert slowing.wait_s("robin", stranger("192.168.7.31"), 5.0) == 0
    assert slowing.wait_s("robin", PHONE, 5.0) == 0


def test_many_addresses_guess_no_faster_and_lock_no_known_device_out() -> None:
    """A thousand addresses have a hundred tries an hour at most, and the owner's phone waits not.

    A hundred: OWASP ASVS 4.0.3, 2.2.1 (from memory).
    """
    slowing, now_s, tries = Slowing(), 0.0, 0
    while now_s < 3600.0:
        source = stranger(f"10.0.{tries // 250}.{tries % 250}")
        wait_s = slowing.wait_s("robin", source, now_s)
        assert wait_s <= 45
        now_s += wait_s
        slowing.failed("robin", source, now_s)
        tries += 1
    assert 20 < tries <= 100
    assert slowing.wait_s("robin", PHONE, now_s) == 0


def test_a_line_of_ipv6_is_one_source() -> None:
    """Who may choose among 2 to the 64 addresses is not another with each (RFC 4291, 2.5.4)."""
    assert stranger("2001:db8:1:2::1") == stranger("2001:db8:1:2:ffff::9")
    assert stranger("2001:db8:1:2::1") != stranger("2001:db8:1:3::1")
    assert stranger("::ffff:192.168.7.30") == HERE
    assert stranger("") == Source("")


def test_a_success_forgets_and_so_does_a_day() -> None:
    """The right password ends the slowing; a day without a try does too."""
    slowing = Slowing()
    for _ in range(5):
        slowing.failed("robin", HERE, 0.0)
        slowing.failed("wren", HERE, 0.0)
    slowing.succeeded("robin", HERE)
    assert slowing.wait_s("robin", HERE, 1.0) == 0
    assert slowing.wait_s("wren", HERE, 1.0) == 7
    assert slowing.wait_s("wren", HERE, 86_401.0) == 0


def test_made_up_names_do_not_fill_the_memory() -> None:
    """However many names are tried, no more than ten thousand are remembered."""
    slowing = Slowing()
    for number in range(10_050):
        slowing.failed(str(number), HERE, float(number) / 100)
    assert len(slowing._failed) == 10_000


def test_a_flood_from_one_address_is_cut_and_others_pass() -> None:
    """One address has twenty tries a minute, all together a hundred; a known device its own."""
    stile = Turnstile()
    own = [stile.passes(HERE, number / 10) for number in range(30)]
    assert own == [True] * 20 + [False] * 10
    assert stile.passes(stranger("10.0.0.2"), 3.0)
    assert stile.passes(HERE, 60.0)
    crowd = Turnstile()
    passed = [crowd.passes(stranger(f"10.1.0.{number}"), 61.0) for number in range(200)]
    assert passed == [True] * 100 + [False] * 100
    assert [crowd.passes(PHONE, 61.0) for _ in range(21)] == [True] * 20 + [False]
