from tests.mini_book import SEAT, plain_git


def test_opens(at):
    book = at("mira")
    book.set(SEAT, "positions.seat.reach", "612.500")
    done = book.ink(SEAT, "rubbed")
    assert book.values(SEAT)["positions.seat.reach"]
    print(done, plain_git(book.folder, "status", "--short"))
