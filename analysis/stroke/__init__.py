"""Which of the two TDCs is the compression's?

Each passage through a TDC is smoothed against hum and noise (``passages``); the likelihood of
what each turn's TDC showed adds up over the turns (``phase``), until one candidate is as good as
certain or the answer is that it is not.
"""
