"""How is a class held in the window? Its questions before the class, and a desk for the trainer.

``lesson_play`` puts one question after another; ``desk`` is what the trainer sees of it, on a
screen of its own or as a page of the one window, where it hides what the class must not see.
"""
