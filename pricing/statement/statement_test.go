package statement_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"wainscot/bom/document"
	"wainscot/pricing/money"
	"wainscot/pricing/statement"
)

func ours() *statement.Columns {
	return &statement.Columns{
		Between: ",", Day: "Date", DayOrder: statement.DayMonthYear, Amount: "Amount", Decimal: ".",
		Words: []string{"Details", "More"}, Party: "Name", Balance: "Balance",
	}
}

func asked() statement.Asked {
	return statement.Asked{Columns: ours(), Account: "GB82 WEST 1234 5698 7654 32", Currency: "GBP"}
}

// camt puts statements into the message they come in, in version 2 or 8 of it.
func camt(version string, inner string) []byte {
	return []byte(`<?xml version="1.0" encoding="UTF-8"?>
<Document xmlns="urn:iso:std:iso:20022:tech:xsd:camt.053.001.` + version + `"><BkToCstmrStmt><GrpHdr><MsgId>M1</MsgId></GrpHdr>
` + inner + `</BkToCstmrStmt></Document>`)
}

func balance(kind, amount, side string) string {
	return `<Bal><Tp><CdOrPrtry><Cd>` + kind + `</Cd></CdOrPrtry></Tp><Amt Ccy="EUR">` + amount + `</Amt><CdtDbtInd>` + side + `</CdtDbtInd><Dt><Dt>2026-11-02</Dt></Dt></Bal>`
}

func entry(amount, side, rest string) string {
	return "\n" + `<Ntry><Amt Ccy="EUR">` + amount + `</Amt><CdtDbtInd>` + side + `</CdtDbtInd><Sts>BOOK</Sts><BookgDt><Dt>2026-11-02</Dt></BookgDt>` + rest + `</Ntry>`
}

const account = `<Acct><Id><IBAN>NL91ABNA0417164300</IBAN></Id><Ccy>EUR</Ccy></Acct>`

// brief is a statement as one can read it.
func brief(s statement.Statement) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s %s %s", s.Source, s.Account, s.Currency)
	for _, bal := range []*money.Amount{s.Opening, s.Closing} {
		if bal == nil {
			b.WriteString(" ?")
		} else {
			b.WriteString(" " + bal.Fixed())
		}
	}
	for _, l := range s.Lines {
		fmt.Fprintf(&b, "\n%s %s %q %q", l.Day, l.Amount.Fixed(), l.Party, l.Words)
		for _, more := range []struct{ name, value string }{{"ref", l.Reference}, {"end", l.EndToEnd}, {"id", l.BankID}, {"from", l.PartyAccount}} {
			if more.value != "" {
				fmt.Fprintf(&b, " %s=%s", more.name, more.value)
			}
		}
		if l.Reversal {
			b.WriteString(" reversal")
		}
		if l.Foreign != nil {
			fmt.Fprintf(&b, " foreign=%s@%s", l.Foreign.Amount, l.Foreign.Rate)
		}
	}
	return b.String()
}

// The balances of a public sample of camt.053 with several statements (genkgo/camt,
// multi-statement): 18.15 and 8.85 come to 27.00, 7.00 off that leave 20.00, and
// each opens as the one before closed.
func TestBalancesOfAPublicSample(t *testing.T) {
	one := "<Stmt><Id>1</Id>" + account + balance("OPBD", "18.15", "CRDT") + balance("CLBD", "27.00", "CRDT") + entry("8.85", "CRDT", "") + "</Stmt>"
	two := "<Stmt><Id>2</Id>" + account + balance("PRCD", "27.00", "CRDT") + balance("CLBD", "20.00", "CRDT") + entry("7.00", "DBIT", "") + "</Stmt>"
	list, faults := statement.Read(camt("02", one+two), statement.Asked{})
	if len(faults) > 0 || len(list) != 2 {
		t.Fatal(len(list), faults)
	}
	if !list[1].Follows(&list[0]) || list[0].Follows(&list[1]) {
		t.Error("the second follows the first, and not the other way about")
	}
	if got := list[1].Closing.Fixed(); got != "20.00" {
		t.Errorf("it closes with %s", got)
	}
	broken := strings.Replace(one, "8.85", "8.86", 1)
	list, faults = statement.Read(camt("02", broken+two), statement.Asked{})
	if len(list) != 0 || len(faults) != 1 || faults[0].Code != "does_not_add_up" || faults[0].Line == 0 {
		t.Errorf("a line of a penny more gives %d statements, %v", len(list), faults)
	}
}

// The ledger balance and amounts of a public test of an OFX library (ofxgo,
// bank): -200.00, -300.00, ledger 200.29. FITID tells repeats.
func TestOFX(t *testing.T) {
	const movements = `<BANKTRANLIST><DTSTART>20261101<DTEND>20261103
<STMTTRN><TRNTYPE>CHECK<DTPOSTED>20261102120000[-5:EST]<TRNAMT>-200.00<FITID>a1<CHECKNUM>1000<NAME>Fitt &amp; Sons<MEMO>Timber
</STMTTRN><STMTTRN><TRNTYPE>XFER<DTPOSTED>20261103<TRNAMT>-300,00<FITID>a2<MEMO>To savings</STMTTRN></BANKTRANLIST>`
	sgml := "OFXHEADER:100\nDATA:OFXSGML\nVERSION:102\nENCODING:USASCII\nCHARSET:1252\n\n<OFX><BANKMSGSRSV1><STMTTRNRS><STMTRS><CURDEF>USD" +
		"<BANKACCTFROM><BANKID>318398732<ACCTID>78346129<ACCTTYPE>CHECKING</BANKACCTFROM>" + movements +
		"<LEDGERBAL><BALAMT>200.29<DTASOF>20261103</LEDGERBAL><AVAILBAL><BALAMT>999<DTASOF>20261103</AVAILBAL></STMTRS></STMTTRNRS></BANKMSGSRSV1></OFX>"
	closed := strings.NewReplacer("<CURDEF>USD", "<CURDEF>USD</CURDEF>", "<FITID>a1", "<FITID>a1</FITID>", "<BALAMT>200.29", "<BALAMT>200.29</BALAMT>",
		"OFXHEADER:100\nDATA:OFXSGML\nVERSION:102\nENCODING:USASCII\nCHARSET:1252\n\n", `<?xml version="1.0"?><?OFX OFXHEADER="200" VERSION="220"?>`).Replace(sgml)
	const want = `OFX 31839873278346129 USD ? 200.29
2026-11-02 -200.00 "Fitt & Sons" "Timber 1000" id=a1
2026-11-03 -300.00 "" "To savings" id=a2`
	for name, file := range map[string]string{"SGML": sgml, "XML": closed, "Windows": strings.Replace(sgml, "Timber", "Timber", 1)} {
		list, faults := statement.Read([]byte(file), statement.Asked{})
		if len(faults) > 0 || len(list) != 1 || brief(list[0]) != want {
			t.Errorf("%s: %v %v", name, list, faults)
		}
	}
	latin := strings.Replace(sgml, "To savings", "Caf\xe9", 1)
	if list, faults := statement.Read([]byte(latin), statement.Asked{}); len(faults) > 0 || list[0].Lines[1].Words != "Café" {
		t.Errorf("in windows-1252: %v %v", list, faults)
	}
	for name, c := range map[string]struct{ old, with, code string }{
		"cut off":        {"</STMTRS></STMTTRNRS></BANKMSGSRSV1></OFX>", "", "not_whole"},
		"not an amount":  {"-200.00", "two hundred", "not_an_amount"},
		"three decimals": {"-200.00", "-200.005", "not_an_amount"},
		"no day":         {"20261103<TRNAMT>", "20261303<TRNAMT>", "no_day"},
		"no account":     {"<BANKID>318398732<ACCTID>78346129", "", "no_account"},
		"no currency":    {"<CURDEF>USD", "<CURDEF>pounds", "currency"},
		"another's":      {"<STMTRS>", "<INVSTMTRS>", "no_statement"},
	} {
		list, faults := statement.Read([]byte(strings.Replace(sgml, c.old, c.with, 1)), statement.Asked{})
		if len(list) != 0 || len(faults) == 0 || !slices.ContainsFunc(faults, func(f document.Fault) bool { return f.Code == c.code }) {
			t.Errorf("%s: %v %v", name, list, faults)
		}
	}
}

func TestCamt(t *testing.T) {
	details := func(inner string) string {
		return "<NtryDtls>" + inner + "</NtryDtls>"
	}
	part := func(amount, party, words string) string {
		return `<TxDtls><Refs><EndToEndId>NOTPROVIDED</EndToEndId></Refs><AmtDtls><TxAmt><Amt Ccy="EUR">` + amount + `</Amt></TxAmt></AmtDtls><RltdPties><Dbtr><Nm>` + party +
			`</Nm></Dbtr></RltdPties><RmtInf><Ustrd>` + words + `</Ustrd></RmtInf></TxDtls>`
	}
	for name, c := range map[string]struct{ version, inner, want string }{
		"a customer pays": {"02", entry("1000.00", "CRDT", `<AcctSvcrRef>B7</AcctSvcrRef>`+details(`<TxDtls><Refs><EndToEndId>E1</EndToEndId></Refs>
<RltdPties><Dbtr><Nm>O. Fairweather</Nm></Dbtr><DbtrAcct><Id><IBAN>GB82 WEST 1234 5698 7654 32</IBAN></Id></DbtrAcct></RltdPties>
<RmtInf><Ustrd>deposit</Ustrd><Ustrd>van</Ustrd><Strd><CdtrRefInf><Ref>RF18 5390 0754 7034</Ref></CdtrRefInf></Strd></RmtInf></TxDtls>`)),
			`2026-11-02 1000.00 "O. Fairweather" "deposit van" ref=RF18539007547034 end=E1 id=B7 from=GB82WEST12345698765432`},
		"in version 8": {"08", strings.Replace(entry("5.00", "DBIT", details(`<TxDtls><RltdPties><Dbtr><Pty><Nm>We</Nm></Pty></Dbtr><Cdtr><Pty><Nm>Timber yard</Nm></Pty></Cdtr></RltdPties></TxDtls>`)), "<Sts>BOOK</Sts>", "<Sts><Cd>BOOK</Cd></Sts>", 1),
			`2026-11-02 -5.00 "Timber yard" ""`},
		"several at once": {"02", entry("30.00", "CRDT", details(part("10.00", "A", "one")+part("20.00", "B", "two"))),
			"2026-11-02 10.00 \"A\" \"one\"\n2026-11-02 20.00 \"B\" \"two\""},
		"several that do not come to it": {"02", entry("30.00", "CRDT", details(part("10.00", "A", "one")+part("19.00", "B", "two"))),
			`2026-11-02 30.00 "A" "one (2 payments together)"`},
		"not booked": {"02", strings.Replace(entry("30.00", "CRDT", ""), "BOOK", "PDNG", 1), ``},
		"taken back": {"02", entry("30.00", "DBIT", `<RvslInd>true</RvslInd>`+details(part("30.00", "A", "bounced"))),
			`2026-11-02 -30.00 "A" "bounced" reversal`},
		"in another currency": {"02", entry("85.00", "CRDT", details(`<TxDtls><AmtDtls><InstdAmt><Amt Ccy="USD">100</Amt><CcyXchg><XchgRate>0.85</XchgRate></CcyXchg></InstdAmt></AmtDtls></TxDtls>`)+`<AddtlNtryInf>from abroad</AddtlNtryInf>`),
			`2026-11-02 85.00 "" "from abroad" foreign=100.00 USD@0.85`},
	} {
		list, faults := statement.Read(camt(c.version, "<Stmt><Id>1</Id>"+account+c.inner+"</Stmt>"), statement.Asked{})
		if len(faults) > 0 || len(list) != 1 {
			t.Errorf("%s: %v", name, faults)
			continue
		}
		if _, got, _ := strings.Cut(brief(list[0]), "\n"); got != c.want {
			t.Errorf("%s:\n%s\nwant\n%s", name, got, c.want)
		}
	}
	for name, c := range map[string]struct{ inner, code string }{
		"cut off":       {"<Stmt><Id>1</Id>" + account + entry("1.00", "CRDT", "") + "<Ntry>", "not_xml"},
		"no side":       {"<Stmt><Id>1</Id>" + account + entry("1.00", "", "") + "</Stmt>", "no_side"},
		"below nothing": {"<Stmt><Id>1</Id>" + account + entry("-1.00", "CRDT", "") + "</Stmt>", "not_an_amount"},
		"half a cent":   {"<Stmt><Id>1</Id>" + account + entry("1.005", "CRDT", "") + "</Stmt>", "not_an_amount"},
		"two monies":    {"<Stmt><Id>1</Id>" + account + strings.Replace(entry("1.00", "CRDT", ""), "EUR", "USD", 1) + "</Stmt>", "currency"},
		"no day":        {"<Stmt><Id>1</Id>" + account + strings.Replace(entry("1.00", "CRDT", ""), "11-02", "11-31", 1) + "</Stmt>", "no_day"},
	} {
		list, faults := statement.Read(camt("02", c.inner), statement.Asked{})
		if len(list) != 0 || len(faults) == 0 || faults[0].Code != c.code || faults[0].Line < 2 {
			t.Errorf("%s: %v %v", name, list, faults)
		}
	}
	report := strings.ReplaceAll(string(camt("02", "")), "BkToCstmrStmt", "BkToCstmrAcctRpt")
	if _, faults := statement.Read([]byte(report), statement.Asked{}); len(faults) != 1 || faults[0].Code != "other_message" {
		t.Errorf("a camt.052: %v", faults)
	}
}

func TestCSV(t *testing.T) {
	const file = `My account
Date,Name,Details,More,Amount,Balance
02/11/2026,Aldous W,deposit,RF18 5390 0754 7034,"1,000.00","1,500.00"
3 Nov 26,Timber yard,,,-50.00,"1,450.00"

04/11/2026,Bank,fee,,(0.50),1449.50
`
	a := asked()
	a.Columns.Skip = 1
	const want = `CSV GB82WEST12345698765432 GBP 500.00 1449.50
2026-11-02 1000.00 "Aldous W" "deposit RF18 5390 0754 7034"
2026-11-03 -50.00 "Timber yard" ""
2026-11-04 -0.50 "Bank" "fee"`
	list, faults := statement.Read([]byte(file), a)
	if len(faults) > 0 || brief(list[0]) != want {
		t.Fatalf("%v %v", list, faults)
	}
	if list[0].Lines[1].At != 4 || list[0].Lines[2].At != 6 {
		t.Errorf("the lines stand at %d and %d", list[0].Lines[1].At, list[0].Lines[2].At)
	}
	if list[0].From != "2026-11-02" || list[0].Until != "2026-11-04" {
		t.Errorf("it goes from %s to %s", list[0].From, list[0].Until)
	}
	// The latest first, as many banks write it.
	lines := strings.Split(strings.TrimSpace(strings.Replace(file, "\n\n", "\n", 1)), "\n")
	slices.Reverse(lines[2:])
	if back, faults := statement.Read([]byte(strings.Join(lines, "\n")), a); len(faults) > 0 || brief(back[0]) != want {
		t.Errorf("the latest first: %v %v", back, faults)
	}
	two := asked()
	two.Columns = &statement.Columns{Between: ";", Day: "Buchung", DayOrder: statement.DayMonthYear, In: "Haben", Out: "Soll", Decimal: ",", Words: []string{"Text"}}
	const other = "\ufeffBuchung;Text;Soll;Haben\n02.11.2026;Eins;;1.234,50\n03.11.2026;Zwei;10,00;\n03.11.2026;Drei;-7;0,00\n"
	list, faults = statement.Read([]byte(other), two)
	const wanted = `CSV GB82WEST12345698765432 GBP ? ?
2026-11-02 1234.50 "" "Eins"
2026-11-03 -10.00 "" "Zwei"
2026-11-03 -7.00 "" "Drei"`
	if len(faults) > 0 || brief(list[0]) != wanted {
		t.Errorf("two columns: %v %v", list, faults)
	}
	for name, c := range map[string]struct {
		old, with, code string
		line            int
	}{
		"a line is missing":   {"3 Nov 26,Timber yard,,,-50.00,\"1,450.00\"\n", "", "does_not_add_up", 5},
		"a column has gone":   {",Balance", ",Saldo", "no_column", 2},
		"not an amount":       {"-50.00", "fifty", "not_an_amount", 4},
		"a comma of decimals": {"-50.00", `"-50,00"`, "not_an_amount", 4},
		"no day":              {"3 Nov 26", "31 Nov 26", "no_day", 4},
		"a mark too many":     {"Timber yard", "Timber \"yard", "not_csv", 4},
	} {
		list, faults := statement.Read([]byte(strings.Replace(file, c.old, c.with, 1)), a)
		if len(list) != 0 || len(faults) == 0 || faults[0].Code != c.code || faults[0].Line != c.line {
			t.Errorf("%s: %v %v", name, list, faults)
		}
	}
	if _, faults := statement.Read([]byte(file), statement.Asked{}); len(faults) != 1 || faults[0].Code != "no_columns" {
		t.Errorf("without a map: %v", faults)
	}
}

func TestColumnsCheck(t *testing.T) {
	if faults := ours().Check(); len(faults) > 0 {
		t.Fatal(faults)
	}
	for name, change := range map[string]func(*statement.Columns){
		"between":   func(c *statement.Columns) { c.Between = "x" },
		"decimal":   func(c *statement.Columns) { c.Decimal = ";" },
		"day_order": func(c *statement.Columns) { c.DayOrder = "dd/mm" },
		"skip":      func(c *statement.Columns) { c.Skip = statement.MaxSkip + 1 },
		"leave":     func(c *statement.Columns) { c.Leave = -1 },
		"day":       func(c *statement.Columns) { c.Day = "" },
		"amount":    func(c *statement.Columns) { c.In, c.Out = "In", "Out" },
		"words":     func(c *statement.Columns) { c.Words = make([]string, 11) },
		"party":     func(c *statement.Columns) { c.Party = "bell\a" },
	} {
		c := ours()
		change(c)
		if faults := c.Check(); len(faults) == 0 || faults[0].At != name {
			t.Errorf("%s: %v", name, faults)
		}
	}
	half := ours()
	half.Amount, half.In = "", "In"
	if faults := half.Check(); len(faults) != 1 {
		t.Errorf("in without out: %v", faults)
	}
}

// What a bank writes comes back, whatever it is, in whichever order; a file that
// is read twice, or overlaps another by whole days, brings nothing new; and a
// line taken out of one that has balances is found.
func TestFilesOverlap(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		n := rapid.IntRange(1, 30).Draw(rt, "lines")
		a := asked()
		balance := rapid.Int64Range(-100_000, 100_000).Draw(rt, "opening")
		day := 1
		var rows []string
		var days []int
		for range n {
			day += rapid.IntRange(0, 1).Draw(rt, "later")
			minor := rapid.Int64Range(-500, 500).Draw(rt, "minor")
			balance += minor
			amount, err := money.FromMinor(minor, "GBP")
			after, err2 := money.FromMinor(balance, "GBP")
			if err != nil || err2 != nil {
				rt.Fatal(err, err2)
			}
			rows = append(rows, fmt.Sprintf(`%02d/11/2026,%s,"%s",,%s,%s`, day, rapid.SampledFrom([]string{"A", "B"}).Draw(rt, "party"),
				rapid.SampledFrom([]string{"rent", "a, b", "said \"\"so\"\""}).Draw(rt, "words"), amount.Fixed(), after.Fixed()))
			days = append(days, day)
		}
		read := func(rows []string) (statement.Statement, []string, int) {
			if rapid.Bool().Draw(rt, "latest first") {
				rows = slices.Clone(rows)
				slices.Reverse(rows)
			}
			list, faults := statement.Read([]byte("Date,Name,Details,More,Amount,Balance\n"+strings.Join(rows, "\n")), a)
			if len(faults) > 0 {
				return statement.Statement{}, nil, len(faults)
			}
			return list[0], list[0].Identities(), 0
		}
		all, names, faults := read(rows)
		if faults > 0 || len(all.Lines) != n {
			rt.Fatalf("%d of %d lines, %d faults: %q", len(all.Lines), n, faults, rows)
		}
		if sorted := slices.Compact(slices.Sorted(slices.Values(names))); len(sorted) != n {
			rt.Fatalf("two of %d lines have one name", n)
		}
		// From the beginning of any day, and until the end of any day.
		from := rapid.IntRange(0, n-1).Draw(rt, "from")
		for from > 0 && days[from-1] == days[from] {
			from--
		}
		_, part, faults := read(rows[from:])
		if faults > 0 {
			rt.Fatalf("the last lines do not read: %q", rows[from:])
		}
		for _, name := range part {
			if !slices.Contains(names, name) {
				rt.Fatalf("a line of the overlap is new")
			}
		}
		// A line that moved the balance cannot be missing from the middle. Of one
		// day alone it may: turned about, the rest may happen to follow.
		if out := rapid.IntRange(0, n-1).Draw(rt, "missing"); out > 0 && out < n-1 && days[0] < days[n-1] && all.Lines[out].Amount.Sign() != 0 {
			if less, _, faults := read(slices.Delete(slices.Clone(rows), out, out+1)); faults == 0 {
				rt.Fatalf("line %d is missing and nobody says so: %v", out, less)
			}
		}
	})
}

func TestNumbersAsPeopleWriteThem(t *testing.T) {
	read := func(cell, mark string) (string, bool) {
		a := asked()
		a.Columns.Balance, a.Columns.Between, a.Columns.Decimal = "", ";", mark
		list, faults := statement.Read([]byte("Date;Name;Details;More;Amount\n02/11/2026;;;;"+cell), a)
		if len(faults) > 0 {
			return "", false
		}
		return list[0].Lines[0].Amount.Fixed(), true
	}
	for _, c := range []struct{ cell, mark, want string }{
		{"1,234.50", ".", "1234.50"}, {"1.234,50", ",", "1234.50"}, {"1 234 567,5", ",", "1234567.50"}, {"1'234.50", ".", "1234.50"},
		{"£12", ".", "12.00"}, {"12.00-", ".", "-12.00"}, {"(12.00)", ".", "-12.00"}, {"−12", ".", "-12.00"}, {"+12", ".", "12.00"}, {"12.000", ".", "12.00"},
		{"1,234'567.00", ".", ""}, {"1,23.00", ".", ""}, {"1.234,50", ".", ""}, {"12.005", ".", ""}, {"", ".", ""}, {"1e3", ".", ""}, {"0x10", ".", ""}, {"12..0", ".", ""}, {"(-12)", ".", ""},
	} {
		if got, ok := read(c.cell, c.mark); got != c.want || ok != (c.want != "") {
			t.Errorf("%q with %q before the decimals is %q, want %q", c.cell, c.mark, got, c.want)
		}
	}
}

func TestIdentities(t *testing.T) {
	line := func(id, minor string, more string) string {
		return entry(minor, "CRDT", "<AcctSvcrRef>"+id+"</AcctSvcrRef>"+more)
	}
	names := func(inner string) []string {
		t.Helper()
		list, faults := statement.Read(camt("02", "<Stmt><Id>1</Id>"+account+inner+"</Stmt>"), statement.Asked{})
		if len(faults) > 0 {
			t.Fatal(faults)
		}
		return list[0].Identities()
	}
	once := names(line("A", "1.00", ""))
	if same := names(line("A", "1.00", "<AddtlNtryInf>in other words</AddtlNtryInf>") + line("B", "1.00", "")); same[0] != once[0] || same[1] == once[0] {
		t.Error("a line is known by the bank's own id, whatever its words")
	}
	if other := names(line("A", "2.00", "")); other[0] == once[0] {
		t.Error("an id that the bank uses again for another amount is another line")
	}
	if twice := names(line("A", "1.00", "") + line("A", "1.00", "")); twice[0] == twice[1] || twice[0] == once[0] {
		t.Error("an id that two lines have names neither")
	}
}

// TestLatestFirstSaysWhere: a line is missing from a file that begins with the
// latest, and the line above it is named.
func TestLatestFirstSaysWhere(t *testing.T) {
	const file = "Date,Name,Details,More,Amount,Balance\n05/11/2026,,,,1,15\n04/11/2026,,,,2,14\n02/11/2026,,,,4,9\n01/11/2026,,,,5,5\n"
	_, faults := statement.Read([]byte(file), asked())
	if len(faults) != 1 || faults[0].Code != "does_not_add_up" || faults[0].Line != 3 {
		t.Errorf("faults %v", faults)
	}
}

// TestMoreThanIsKept: a line or balance of more than anybody has is not read, so
// that no sum of them is too large to be written.
func TestMoreThanIsKept(t *testing.T) {
	for _, c := range []struct {
		amount, balance string
		faults, line    int
	}{
		{"999999999.99", "999999999.99", 0, 0},
		{"-1000000000.00", "-1.00", 1, 2},
		{"1.00", "1000000000.00", 1, 0},
	} {
		_, faults := statement.Read([]byte("Date,Name,Details,More,Amount,Balance\n05/11/2026,,,,"+c.amount+","+c.balance+"\n"), asked())
		if len(faults) != c.faults || c.faults > 0 && (faults[0].Code != "out_of_range" || faults[0].Line != c.line) {
			t.Errorf("%s with %s: %v", c.amount, c.balance, faults)
		}
	}
}
