"""Whether what a hold's report states comes true, hold by hold, of a generator of its own."""
