"""The page: the room as phones, tablets and the cab's screen show it, over the rig's own network, without internet.

serve.py puts it together · address.py, certificate.py where and how it is reached · door.py, passes.py who is let in ·
app.py what is answered over HTTP · session.py one screen's connection · hub.py all of them · room.py the room as the
outbox sees it · talk.py the conversation as the record has it · boards.py what the screens show of the incident ·
handsfree.py listening · replay.py a finished incident or a drill played again · static/ what the browser gets.
"""

KIND = "page"
