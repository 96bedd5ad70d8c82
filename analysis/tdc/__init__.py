"""Where is top dead centre, and how sure is that? The fit, its doubts, and other ways.

A peak of pressure is not TDC: heat and leaks move it. So a model of the closed cylinder
(``closed_cycle`` with its ``losses``, what is known before in ``priors``) is fitted to several
compressions together (``fit`` by ``descent``, ``joint_fit``), from a rough start (``rough``,
``cut_off``, ``coarse``); other answers that fit as well are sought (``modes``), and the model is
doubted (``doubts``). What each compression by itself makes of TDC shows a clamp that slipped
(``pass_tdc``), and another method gives a second opinion. Other ways stand beside it: ``rocking``
and its guide, a piston ``stop``, and published methods to compare with (``baselines``,
``volume_baselines`` by ``lowest``). ``diagnostics`` reads ratio, leak and loss angle off the fit.

README.md in this folder tells why it is built so.
"""
