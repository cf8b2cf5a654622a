"""Pictures of a set-up in the terminal's own characters; pure functions, no screen, no colour.

`plan` draws the tray, `rounds` the bars of a round, `bites` what jaws and fingers
hold, `margins` how far each figure is from its limit. Each takes what the engine
answers with and returns lines of at most `width` cells (made for 40 to 200); with
`ascii_only` they are ASCII. Every sign has its words beside it, nothing is told
by colour, and a picture shows how a job is set up, never how far it has come.
What is not known is written `cannot tell:` with the addresses that are missing.
"""
