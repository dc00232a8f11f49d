"""Texts for people as data: parts, quantities, one catalogue of English, and the one place where they become words.

What the rules and the plan say stays in parts (``parts``) until the screen. A text of a rule file is read into parts
(``reading``); a text of the program is a message by id (``english``). ``speaker`` alone turns parts into words, metric or with
imperial figures beside. Lists, plurals, month and weekday names come from CLDR by Babel (20 to 30 ms at start, less than a
thirtieth of an answer), so that a further language brings its catalogue and no code. Conversion of units stays ours
(``units``): nine factors, where the libraries for it take longer to load than a whole answer.
"""
