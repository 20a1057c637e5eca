"""A night in one page, and in a terminal."""

from forebay.review.beside import with_judgement
from forebay.review.gather import Review, review_of
from forebay.review.page import page
from forebay.review.text import summary

__all__ = ["Review", "page", "review_of", "summary", "with_judgement"]
