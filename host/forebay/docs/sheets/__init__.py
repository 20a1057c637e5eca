"""The pages of hardware/, one module a page; `forebay.docs.hardware` writes them."""
