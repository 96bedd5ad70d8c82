"""What is asked of a class, and what did it answer?"""
