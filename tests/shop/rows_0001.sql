UPDATE shop SET last_number = 2 WHERE id = 1;
INSERT INTO cases (id, number, title, story, opened, status, waits_for, case_toml, created_at, changed_at, revision)
VALUES (1, 1, 'Oval spacer', 'the hole is oval', '2026-02-01', 'closed', 'nothing', '[case]
title = "Oval spacer"
story = "the hole is oval"
', '2026-02-01 08:00:00.000000', '2026-02-03 08:00:00.000000', 2);
INSERT INTO cases (id, number, title, story, opened, status, waits_for, case_toml, created_at, changed_at, revision)
VALUES (2, 2, 'Bent lever', 'it bent in the sun', '2026-02-02', 'open', 'the sender', '[case]
title = "Bent lever"
story = "it bent in the sun"

[[answer]]
check = "pluck_belts"
result = "yes"

[[exhibit]]
file = "lever.jpg"
', '2026-02-02 08:00:00.000000', '2026-02-04 08:00:00.000000', 2);
INSERT INTO exhibits (id, case_id, sha256, name, kind, note, bytes, added_at)
VALUES (1, 2, '2cf24dba5fb0a30e26e83b2ac5b9e29e1b161e5c1fa7425e73043362938b9824', 'lever.jpg', '', '', 5, '2026-02-02 08:00:00.000000');
INSERT INTO events (id, case_id, kind, payload, before, at)
VALUES (1, 1, 'opened', '{}', '{}', '2026-02-01 08:00:00.000000');
INSERT INTO events (id, case_id, kind, payload, before, at)
VALUES (2, 1, 'closed', '{"cause": "belt_slack", "text": "", "note": ""}', '{"status": "open", "waits_for": "our check", "outcome": null}', '2026-02-03 08:00:00.000000');
INSERT INTO events (id, case_id, kind, payload, before, at)
VALUES (3, 2, 'opened', '{}', '{}', '2026-02-02 08:00:00.000000');
INSERT INTO events (id, case_id, kind, payload, before, at)
VALUES (4, 2, 'answered', '{"check": "pluck_belts", "result": "yes"}', '{"case_toml": "[case]\ntitle = \"Bent lever\"\nstory = \"it bent in the sun\"\n\n[[exhibit]]\nfile = \"lever.jpg\"\n"}', '2026-02-04 08:00:00.000000');
INSERT INTO outcomes (id, case_id, cause, text, was_right, note, closed_at)
VALUES (1, 1, 'belt_slack', '', TRUE, 'plucked at 38 Hz', '2026-02-03 08:00:00.000000');
INSERT INTO diagnoses (case_id, revision, version, made_at, content)
VALUES (2, 2, '0.1.0', '2026-02-04 08:00:00.000000', '{"causes": []}')
