package statement_test

import (
	"reflect"
	"slices"
	"testing"

	"wainscot/pricing/statement"
)

// holdRead is what a reader keeps to, whatever comes: statements or faults and
// never both, each fault whole, each line with its day, its money and a name of
// its own; balances that are told are come to; twice the same.
func holdRead(t *testing.T, file []byte, with statement.Asked) {
	t.Helper()
	list, faults := statement.Read(file, with)
	again, faultsAgain := statement.Read(file, with)
	if !reflect.DeepEqual(list, again) || !reflect.DeepEqual(faults, faultsAgain) {
		t.Error("read twice it is not the same")
	}
	if len(list) > 0 && len(faults) > 0 {
		t.Errorf("both statements and faults: %v", faults)
	}
	for _, fault := range faults {
		if fault.Code == "" || fault.Reason == "" || fault.Remedy == "" {
			t.Errorf("half a fault: %+v", fault)
		}
	}
	for i := range list {
		st := &list[i]
		names := st.Identities()
		if len(names) != len(st.Lines) {
			t.Error("a line without a name")
		}
		slices.Sort(names)
		if len(slices.Compact(names)) != len(st.Lines) {
			t.Error("two lines of one name")
		}
		sum := int64(0)
		for _, l := range st.Lines {
			sum += l.Amount.Minor()
			if len(l.Day) != len("2026-01-01") || l.Amount.Currency() != st.Currency {
				t.Errorf("a line without a day or of other money: %+v", l)
			}
			if st.From != "" && l.Day < st.From || st.Until != "" && l.Day > st.Until {
				t.Errorf("a line of %s in a statement from %q until %q", l.Day, st.From, st.Until)
			}
		}
		if st.Opening != nil && st.Closing != nil && st.Opening.Minor()+sum != st.Closing.Minor() {
			t.Errorf("%s and lines of %d do not come to %s", st.Opening, sum, st.Closing)
		}
	}
}

func FuzzReadCamt(f *testing.F) {
	f.Add(camt("02", "<Stmt>"+account+entry("1", "CRDT", "")+"</Stmt>"))
	f.Add(camt("08", "<Stmt><Id>1</Id>"+account+balance("OPBD", "10.00", "CRDT")+balance("CLBD", "9.50", "CRDT")+
		entry("0.50", "DBIT", "<AcctSvcrRef>A</AcctSvcrRef><RvslInd>true</RvslInd>")+"</Stmt><Stmt>"+account+"</Stmt>"))
	f.Add(camt("02", "<Stmt>"+account+entry("3.00", "CRDT", `<NtryDtls><TxDtls><Refs><EndToEndId>E</EndToEndId></Refs><AmtDtls><InstdAmt><Amt Ccy="USD">3.30</Amt></InstdAmt></AmtDtls>`+
		`<RltdPties><Dbtr><Nm>A</Nm></Dbtr></RltdPties><RmtInf><Strd><CdtrRefInf><Ref>RF18539007547034</Ref></CdtrRefInf></Strd></RmtInf></TxDtls></NtryDtls>`)+"</Stmt>"))
	f.Fuzz(func(t *testing.T, file []byte) { holdRead(t, file, statement.Asked{}) })
}

func FuzzReadOFX(f *testing.F) {
	const head = "OFXHEADER:100\nDATA:OFXSGML\nVERSION:102\n\n"
	const of = "<OFX><BANKMSGSRSV1><STMTTRNRS><STMTRS><CURDEF>USD<BANKACCTFROM><BANKID>1<ACCTID>1</BANKACCTFROM><BANKTRANLIST><DTSTART>20260101<DTEND>20260131"
	f.Add([]byte("OFXHEADER:100\n<OFX><STMTRS><CURDEF>USD<BANKACCTFROM><ACCTID>1</BANKACCTFROM><STMTTRN><TRNAMT>1<DTPOSTED>20260101</STMTTRN></STMTRS>"))
	f.Add([]byte(head + of + "<STMTTRN><TRNTYPE>CREDIT<DTPOSTED>20260102120000[-5:EST]<TRNAMT>+1,50<FITID>1<NAME>A<MEMO>b</STMTTRN></BANKTRANLIST><LEDGERBAL><BALAMT>1.50<DTASOF>20260131</LEDGERBAL></STMTRS></STMTTRNRS></BANKMSGSRSV1></OFX>"))
	f.Add([]byte(`<?xml version="1.0"?><?OFX OFXHEADER="200" VERSION="211"?>` + of + "</DTEND><STMTTRN><TRNAMT>-2</TRNAMT><DTPOSTED>20260103</DTPOSTED><FITID>1</FITID></STMTTRN></BANKTRANLIST></STMTRS>"))
	f.Fuzz(func(t *testing.T, file []byte) { holdRead(t, file, statement.Asked{}) })
}

func FuzzReadCSV(f *testing.F) {
	f.Add([]byte("Date,Name,Details,More,Amount,Balance\n1/1/26,a,b,c,1,2\n"), false)
	f.Add([]byte("Date,Name,Details,More,Amount,Balance\n05/11/2026,,,,1,15\n04/11/2026,,,,2,14\n"), false)
	f.Add([]byte("\xef\xbb\xbfFor,you\n\nDate;Name;Details;More;Amount\n02/11/2026;\"a;\nb\";;;\"1.234,50\"\n"), true)
	f.Fuzz(func(t *testing.T, file []byte, comma bool) {
		a := asked()
		if comma {
			a.Columns.Between, a.Columns.Decimal, a.Columns.Balance = ";", ",", ""
		}
		holdRead(t, file, a)
	})
}
