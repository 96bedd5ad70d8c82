"""Which of the two TDCs is the compression's?"""
