// Package web puts the console and the tasters' pages behind two listeners, and
// writes down the protocol that phones speak.
//
// # Two sides
//
// The console (package console) is for the loopback address only. The tasters'
// side (package taster) is for the local network. Neither knows a rule of the
// trade: both turn what comes in into commands for package session, and its
// states into pages and views. Every page and frame before the reveal is the
// same under every serving key, but for the paths below /pour/, which are the
// pourer's, and the key's own page once the seal has been broken.
//
// # The phones' protocol, version 1
//
// A phone opens a websocket at /ws of the tasters' listener. The Host header
// must be the listener's own name, and the Origin header, which browsers send by
// themselves, must name the same host and port. Frames are text; each is one
// JSON object with a field t. A frame from a phone has at most 4096 bytes.
// Fields that a reader does not know are ignored.
//
// A door is the six-letter code in the address that a QR code holds, /j/{door}:
// the session's own, which gives the next free seat, or a seat card's, which
// gives that seat. A phone makes a token of 16 random bytes once for each door
// and keeps it: it is the phone's claim to its seat. A set is one tray of cups,
// numbered from 1 in the order served to a seat; a take is 0 for the set as
// first poured and 1 for its replacement.
//
// From the phone:
//
//	hello   first frame, within 10 s
//	        v      1
//	        door   the door, as above
//	        token  32 hexadecimal digits
//	sit     takes a seat; the same token again keeps the same seat
//	        id     32 hexadecimal digits, random, the same when sent again
//	        name   1 to 40 characters; the host sees it
//	tray    what was typed as the leftmost code of the tray, right or wrong;
//	        no reply
//	        set, take, code
//	lock    the answer to the set in front of the seat; it is final
//	        id     as for sit
//	        set, take
//	        pick   the code of the picked cup
//	        also   in an answer of two cups that are alike, the code of the second;
//	               else left out or 0. Either pair of a tray may be named: both
//	               sort its cups alike
//	        guess  true if the taster says it was a guess
//	        at     the phone's clock, RFC 3339
//	call    calls the host; the next view shows it
//	        why    spill, tray, unwell or other
//	uncall  takes the call back
//	beat    asks for a beat in return, to know whether the line is alive
//
// To the phone:
//
//	view    the whole picture for this phone, after hello and after every
//	        change; the newest replaces all before
//	        v        1
//	        title    of the session; names no lot and no attribute
//	        demo     true in a demonstration that never counts
//	        practice true in a practice session, where each kept answer says
//	                 whether it is right; absent otherwise
//	        light    "red" where the plan wants the red-light screen, else ""
//	        step     door: no seat yet; lobby: seated, waiting for the start;
//	                 wait: no tray in front; set: a tray is; done: all answered,
//	                 or closed; over: nothing more comes; results: own results
//	        seat     the phone's seat; at step door the one that the door gives,
//	                 0 for the next free one
//	        sets     sets that each seat gets in all
//	        here     at step door: whether sit would be taken now; if not, say
//	                 tells why
//	        cups     cups that each seat gets in all
//	        serving, swallow, allergens, caffeine
//	                 words for the person; may be ""
//	        rinse    seconds to rinse after each set but the last; 0 for none
//	        paused   the host has paused the table
//	        calling  this seat calls the host
//	        say      one sentence for the person; may be ""
//	        front    the set in front, at step set: n, take, method (triangle,
//	                 duo-trio, tetrad, paired-comparison or 3-afc), question,
//	                 hint, define (of a named attribute, else ""), codes (left to
//	                 right), again (true for a replacement), picks (cups that an
//	                 answer names: 1, or 2 that are alike), references (cups at
//	                 the left that are the reference and no answer: 0 or 1), old
//	                 (only of a replacement: the codes of the set's trays that
//	                 were taken back)
//	        kept     this seat's answers that count: set, take, pick, also (only
//	                 in an answer of two), guess, at, right (only in a practice
//	                 session: whether the answer was right; with answer and
//	                 answerAlso, the cups of a right one). An answer of two
//	                 names the pair of the leftmost cup, left cup first,
//	                 whichever pair the lock named
//	        results  at step results: n, method, codes, pick, answer (the code
//	                 that is counted as correct), right, chance (words), and for
//	                 an answer of two also and answerAlso, their second cups
//	kept    the answer to a lock, sent when it is on the host's disk: id, set,
//	        take, pick, also, guess, at (the host's clock), right, as in the
//	        view's list. The same id again, or the same answer again under
//	        another id, gets kept again.
//	refused to a frame that was not taken; nothing of it was kept
//	        id     of the frame, if it had one. A lock with this id was decided on
//	               and is not to be sent again, but for why busy: the host could
//	               not write; send it again after 5 s
//	        why    door, full, frozen, taken, code (the name of a sit is a join
//	               code), pours, seat, moved, answered, set,
//	               pick, phase, words, frame, version, busy or host
//	        say    what happened
//	        next   what to do
//	        final  true: the host closes the line after this
//	beat    the answer to a beat
//
// The host pings every 15 s and closes a line on which nothing was heard for
// 40 s. A phone must not trust a socket that is merely open: out of reach it
// takes frames and loses them. It keeps each lock until kept or refused names
// its id, and sends it again after 5 s and on every new line; the host counts
// it once. A seat has one phone: the newest one that shows its token wins, and
// the other gets refused with why moved.
//
// # One whole exchange
//
// A test runs these lines against a server with a fixed clock and draw: > is
// from the phone, < is to it, and # is what the host does in between.
//
//	> {"t":"hello","v":1,"door":"3WHXX9","token":"00112233445566778899aabbccddeeff"}
//	< {"t":"view","v":1,"title":"Tuesday session","demo":false,"light":"","step":"door","seat":1,"sets":2,"here":true,"cups":5,"serving":"55 to 65 °C","swallow":"Spit or swallow, but do the same with every cup.","allergens":"","caffeine":"about 128 mg if all is swallowed, robusta about 266 mg (an estimate)","rinse":60,"paused":false,"calling":false,"say":"","kept":[]}
//	> {"t":"sit","id":"a0000000000000000000000000000001","name":"Iva"}
//	< {"t":"view","v":1,"title":"Tuesday session","demo":false,"light":"","step":"lobby","seat":1,"sets":2,"here":false,"cups":5,"serving":"55 to 65 °C","swallow":"Spit or swallow, but do the same with every cup.","allergens":"","caffeine":"about 128 mg if all is swallowed, robusta about 266 mg (an estimate)","rinse":60,"paused":false,"calling":false,"say":"The host waits for the others. The phone may sleep and come back.","kept":[]}
//	# the host closes the list
//	< {"t":"view","v":1,"title":"Tuesday session","demo":false,"light":"","step":"lobby","seat":1,"sets":2,"here":false,"cups":5,"serving":"55 to 65 °C","swallow":"Spit or swallow, but do the same with every cup.","allergens":"","caffeine":"about 128 mg if all is swallowed, robusta about 266 mg (an estimate)","rinse":60,"paused":false,"calling":false,"say":"The list is closed. The host has the first set poured.","kept":[]}
//	# the host opens the tasting
//	< {"t":"view","v":1,"title":"Tuesday session","demo":false,"light":"","step":"wait","seat":1,"sets":2,"here":false,"cups":5,"serving":"55 to 65 °C","swallow":"Spit or swallow, but do the same with every cup.","allergens":"","caffeine":"about 128 mg if all is swallowed, robusta about 266 mg (an estimate)","rinse":60,"paused":false,"calling":false,"say":"The host is pouring the first set.","kept":[]}
//	# the host serves the first set
//	< {"t":"view","v":1,"title":"Tuesday session","demo":false,"light":"","step":"set","seat":1,"sets":2,"here":false,"cups":5,"serving":"55 to 65 °C","swallow":"Spit or swallow, but do the same with every cup.","allergens":"","caffeine":"about 128 mg if all is swallowed, robusta about 266 mg (an estimate)","rinse":60,"paused":false,"calling":false,"say":"","front":{"n":1,"take":0,"method":"triangle","question":"Which one is different?","hint":"Taste from left to right. Two cups are the same, one is different. You may go back and taste again.","define":"","codes":[379,770,164],"again":false,"picks":1,"references":0},"kept":[]}
//	> {"t":"tray","set":1,"take":0,"code":379}
//	> {"t":"lock","id":"a0000000000000000000000000000002","set":1,"take":0,"pick":770,"guess":false,"at":"2026-04-14T08:42:15.870Z"}
//	< {"t":"kept","id":"a0000000000000000000000000000002","set":1,"take":0,"pick":770,"guess":false,"at":"2026-04-14T08:42:16Z"}
//	< {"t":"view","v":1,"title":"Tuesday session","demo":false,"light":"","step":"wait","seat":1,"sets":2,"here":false,"cups":5,"serving":"55 to 65 °C","swallow":"Spit or swallow, but do the same with every cup.","allergens":"","caffeine":"about 128 mg if all is swallowed, robusta about 266 mg (an estimate)","rinse":60,"paused":false,"calling":false,"say":"Set 2 follows when the host serves it.","kept":[{"set":1,"take":0,"pick":770,"guess":false,"at":"2026-04-14T08:42:16Z"}]}
//	> {"t":"lock","id":"a0000000000000000000000000000003","set":1,"take":0,"pick":164,"guess":false,"at":"2026-04-14T08:42:18.002Z"}
//	< {"t":"refused","id":"a0000000000000000000000000000003","why":"answered","say":"Another answer to this set is kept already, and an answer can't be changed.","next":"Go on with the next set.","final":false}
//	# the host serves the second set
//	< {"t":"view","v":1,"title":"Tuesday session","demo":false,"light":"","step":"set","seat":1,"sets":2,"here":false,"cups":5,"serving":"55 to 65 °C","swallow":"Spit or swallow, but do the same with every cup.","allergens":"","caffeine":"about 128 mg if all is swallowed, robusta about 266 mg (an estimate)","rinse":60,"paused":false,"calling":false,"say":"","front":{"n":2,"take":0,"method":"paired-comparison","question":"Which cup has less body?","hint":"Taste from left to right. You may go back and taste again.","define":"Body: how full, heavy and thick the coffee feels in the mouth. Not bitterness, not strength of taste.","codes":[677,748],"again":false,"picks":1,"references":0},"kept":[{"set":1,"take":0,"pick":770,"guess":false,"at":"2026-04-14T08:42:16Z"}]}
//	> {"t":"call","why":"spill"}
//	< {"t":"view","v":1,"title":"Tuesday session","demo":false,"light":"","step":"set","seat":1,"sets":2,"here":false,"cups":5,"serving":"55 to 65 °C","swallow":"Spit or swallow, but do the same with every cup.","allergens":"","caffeine":"about 128 mg if all is swallowed, robusta about 266 mg (an estimate)","rinse":60,"paused":false,"calling":true,"say":"","front":{"n":2,"take":0,"method":"paired-comparison","question":"Which cup has less body?","hint":"Taste from left to right. You may go back and taste again.","define":"Body: how full, heavy and thick the coffee feels in the mouth. Not bitterness, not strength of taste.","codes":[677,748],"again":false,"picks":1,"references":0},"kept":[{"set":1,"take":0,"pick":770,"guess":false,"at":"2026-04-14T08:42:16Z"}]}
//	> {"t":"uncall"}
//	< {"t":"view","v":1,"title":"Tuesday session","demo":false,"light":"","step":"set","seat":1,"sets":2,"here":false,"cups":5,"serving":"55 to 65 °C","swallow":"Spit or swallow, but do the same with every cup.","allergens":"","caffeine":"about 128 mg if all is swallowed, robusta about 266 mg (an estimate)","rinse":60,"paused":false,"calling":false,"say":"","front":{"n":2,"take":0,"method":"paired-comparison","question":"Which cup has less body?","hint":"Taste from left to right. You may go back and taste again.","define":"Body: how full, heavy and thick the coffee feels in the mouth. Not bitterness, not strength of taste.","codes":[677,748],"again":false,"picks":1,"references":0},"kept":[{"set":1,"take":0,"pick":770,"guess":false,"at":"2026-04-14T08:42:16Z"}]}
//	> {"t":"lock","id":"a0000000000000000000000000000004","set":2,"take":0,"pick":748,"guess":true,"at":"2026-04-14T08:44:01.500Z"}
//	< {"t":"kept","id":"a0000000000000000000000000000004","set":2,"take":0,"pick":748,"guess":true,"at":"2026-04-14T08:42:16Z"}
//	< {"t":"view","v":1,"title":"Tuesday session","demo":false,"light":"","step":"done","seat":1,"sets":2,"here":false,"cups":5,"serving":"55 to 65 °C","swallow":"Spit or swallow, but do the same with every cup.","allergens":"","caffeine":"about 128 mg if all is swallowed, robusta about 266 mg (an estimate)","rinse":60,"paused":false,"calling":false,"say":"All sets are in. The host closes the session when everybody has answered.","kept":[{"set":1,"take":0,"pick":770,"guess":false,"at":"2026-04-14T08:42:16Z"},{"set":2,"take":0,"pick":748,"guess":true,"at":"2026-04-14T08:42:16Z"}]}
//	> {"t":"beat"}
//	< {"t":"beat"}
//	# the host closes the session
//	< {"t":"view","v":1,"title":"Tuesday session","demo":false,"light":"","step":"done","seat":1,"sets":2,"here":false,"cups":5,"serving":"55 to 65 °C","swallow":"Spit or swallow, but do the same with every cup.","allergens":"","caffeine":"about 128 mg if all is swallowed, robusta about 266 mg (an estimate)","rinse":60,"paused":false,"calling":false,"say":"The host has closed the session. Nothing more is asked of you.","kept":[{"set":1,"take":0,"pick":770,"guess":false,"at":"2026-04-14T08:42:16Z"},{"set":2,"take":0,"pick":748,"guess":true,"at":"2026-04-14T08:42:16Z"}]}
//	# the host reveals the key
//	< {"t":"view","v":1,"title":"Tuesday session","demo":false,"light":"","step":"results","seat":1,"sets":2,"here":false,"cups":5,"serving":"55 to 65 °C","swallow":"Spit or swallow, but do the same with every cup.","allergens":"","caffeine":"about 128 mg if all is swallowed, robusta about 266 mg (an estimate)","rinse":60,"paused":false,"calling":false,"say":"The session is over. Thank you.","kept":[{"set":1,"take":0,"pick":770,"guess":false,"at":"2026-04-14T08:42:16Z"},{"set":2,"take":0,"pick":748,"guess":true,"at":"2026-04-14T08:42:16Z"}],"results":[{"n":1,"method":"triangle","codes":[379,770,164],"pick":770,"answer":379,"right":false,"chance":"once in three"},{"n":2,"method":"paired-comparison","codes":[677,748],"pick":748,"answer":748,"right":true,"chance":"once in two"}]}
//
// A kept and the view that shows it may come in either order.
package web
