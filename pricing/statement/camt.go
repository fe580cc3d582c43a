package statement

import (
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"strings"

	"golang.org/x/text/encoding/charmap"

	"wainscot/bom/calendar"
	"wainscot/bom/document"
	"wainscot/pricing/money"
)

// The parts of a camt.053 (ISO 20022, BankToCustomerStatement)
// that matter here, by the names of the standard's message definition. Between
// versions 2 and 8 a status and a party moved one level in.
type (
	camtEntry struct {
		Amount   camtAmount `xml:"Amt"`
		Side     string     `xml:"CdtDbtInd"`
		Reversal string     `xml:"RvslInd"`
		Status   camtCoded  `xml:"Sts"`
		Booked   camtDay    `xml:"BookgDt"`
		Value    camtDay    `xml:"ValDt"`
		BankID   string     `xml:"AcctSvcrRef"`
		Parts    []camtPart `xml:"NtryDtls>TxDtls"`
		More     string     `xml:"AddtlNtryInf"`
	}
	camtPart struct {
		BankID    string          `xml:"Refs>AcctSvcrRef"`
		EndToEnd  string          `xml:"Refs>EndToEndId"`
		Amount    *camtAmount     `xml:"Amt"`
		Side      string          `xml:"CdtDbtInd"`
		Amounts   camtAmountFound `xml:"AmtDtls"`
		Parties   camtParties     `xml:"RltdPties"`
		Words     []string        `xml:"RmtInf>Ustrd"`
		Reference string          `xml:"RmtInf>Strd>CdtrRefInf>Ref"`
		More      string          `xml:"AddtlTxInf"`
	}
	camtAmountFound struct {
		Transaction *camtAmount `xml:"TxAmt>Amt"`
		Instructed  *camtAmount `xml:"InstdAmt>Amt"`
		Rate        string      `xml:"TxAmt>CcyXchg>XchgRate"`
		OtherRate   string      `xml:"InstdAmt>CcyXchg>XchgRate"`
	}
	camtParties struct {
		Debtor          camtParty   `xml:"Dbtr"`
		DebtorAccount   camtAccount `xml:"DbtrAcct"`
		Creditor        camtParty   `xml:"Cdtr"`
		CreditorAccount camtAccount `xml:"CdtrAcct"`
	}
	camtParty struct {
		Name  string `xml:"Nm"`
		Inner string `xml:"Pty>Nm"`
	}
	camtAccount struct {
		IBAN     string `xml:"Id>IBAN"`
		Other    string `xml:"Id>Othr>Id"`
		Currency string `xml:"Ccy"`
	}
	camtAmount struct {
		Currency string `xml:"Ccy,attr"`
		Text     string `xml:",chardata"`
	}
	camtCoded struct {
		Text string `xml:",chardata"`
		Code string `xml:"Cd"`
	}
	camtDay struct {
		Day    string `xml:"Dt"`
		Moment string `xml:"DtTm"`
	}
	camtBalance struct {
		Kind   string     `xml:"Tp>CdOrPrtry>Cd"`
		Amount camtAmount `xml:"Amt"`
		Side   string     `xml:"CdtDbtInd"`
	}
	camtSpan struct {
		From  string `xml:"FrDtTm"`
		Until string `xml:"ToDtTm"`
	}
)

// camtReader is one file being read.
type camtReader struct {
	in     *xml.Decoder
	out    []Statement
	faults document.Faults
	// now is the statement being read, and what has been seen of it.
	now   *Statement
	lines int
}

func readCamt(file []byte) ([]Statement, document.Faults) {
	r := &camtReader{in: xml.NewDecoder(bytes.NewReader(file))}
	r.in.CharsetReader = charset
	seen := false
	for {
		token, err := r.in.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			r.fault("not_xml", "", "The file breaks off or is not XML: "+cause(err)+".", "Take it from the bank again.")
			return nil, r.faults
		}
		start, ok := token.(xml.StartElement)
		if !ok {
			continue
		}
		switch start.Name.Local {
		case "BkToCstmrStmt":
			seen = true
		case "BkToCstmrAcctRpt", "BkToCstmrDbtCdtNtfctn":
			r.fault("other_message", start.Name.Local, "This is no statement but an account report or a notification (camt.052 or camt.054), which may change.", "Ask the bank for camt.053.")
			return nil, r.faults
		case "Stmt":
			if !r.statement() {
				return nil, r.faults
			}
		}
	}
	if !seen && len(r.faults) == 0 {
		r.fault("other_message", "", "This XML is no statement of an account.", "Ask the bank for camt.053, OFX or CSV.")
	}
	return r.out, r.faults
}

// charset reads the encodings that banks still use beside UTF-8.
func charset(label string, in io.Reader) (io.Reader, error) {
	switch strings.ToLower(label) {
	case "utf-8", "utf8", "us-ascii":
		return in, nil
	case "iso-8859-1", "iso-8859-15", "windows-1252", "latin1":
		return charmap.Windows1252.NewDecoder().Reader(in), nil
	}
	return nil, fmt.Errorf("the encoding %q is not read here", label)
}

// cause is what an XML decoder says, without its own line.
func cause(err error) string {
	if syntax, ok := errors.AsType[*xml.SyntaxError](err); ok {
		return syntax.Msg
	}
	return strings.TrimSuffix(err.Error(), ".")
}

// fault notes what is wrong where the reader stands.
func (r *camtReader) fault(code, at, reason, remedy string) {
	line, _ := r.in.InputPos()
	r.faults = append(r.faults, document.Fault{Code: code, At: at, Line: line, Reason: reason, Remedy: remedy})
}

// statement reads one Stmt; false when the file breaks off.
func (r *camtReader) statement() bool {
	r.now = &Statement{Source: Camt053, Lines: []Line{}}
	var opening, closing *money.Amount
	for {
		token, err := r.in.Token()
		if err != nil {
			r.fault("not_xml", "Stmt", "The file breaks off or is not XML: "+cause(err)+".", "Take it from the bank again.")
			return false
		}
		switch t := token.(type) {
		case xml.EndElement: // only Stmt itself ends here: all else is read whole
			r.now.Opening, r.now.Closing = opening, closing
			r.out = append(r.out, *r.now)
			return true
		case xml.StartElement:
			if err := r.part(t, &opening, &closing); err != nil {
				r.fault("not_xml", "Stmt/"+t.Name.Local, "It cannot be read: "+cause(err)+".", "Take the file from the bank again.")
				return false
			}
		}
	}
}

// part reads one thing in a statement.
func (r *camtReader) part(t xml.StartElement, opening, closing **money.Amount) error {
	switch t.Name.Local {
	case "Id":
		return r.in.DecodeElement(&r.now.ID, &t)
	case "FrToDt":
		var span camtSpan
		err := r.in.DecodeElement(&span, &t)
		r.now.From, r.now.Until = dayOf(span.From), dayOf(span.Until)
		return err
	case "Acct":
		var a camtAccount
		err := r.in.DecodeElement(&a, &t)
		r.now.Account, r.now.Currency = account(a.IBAN+a.Other), money.Currency(strings.TrimSpace(a.Currency))
		return err
	case "Bal":
		var b camtBalance
		if err := r.in.DecodeElement(&b, &t); err != nil {
			return err
		}
		r.balance(b, opening, closing)
		return nil
	case "Ntry":
		var e camtEntry
		line, _ := r.in.InputPos()
		if err := r.in.DecodeElement(&e, &t); err != nil {
			return err
		}
		r.entry(e, line)
		return nil
	}
	return r.in.Skip()
}

// balance: of the kinds there are (external code list BalanceType) booked
// opening and closing count, and the closing of the day before as an opening.
func (r *camtReader) balance(b camtBalance, opening, closing **money.Amount) {
	into := opening
	switch strings.TrimSpace(b.Kind) {
	case "OPBD":
	case "PRCD":
		if *opening != nil {
			return
		}
	case "CLBD":
		into = closing
	default:
		return
	}
	if amount, ok := r.amount(b.Amount, b.Side, "Bal"); ok {
		if r.now.Currency == "" {
			r.now.Currency = amount.Currency()
		}
		*into = &amount
	}
}

// amount reads an amount with its side.
func (r *camtReader) amount(a camtAmount, side, at string) (money.Amount, bool) {
	amount, err := roundNumber(a.Text, money.Currency(a.Currency))
	if err != nil || amount.Sign() < 0 {
		r.fault("not_an_amount", at+"/Amt", fmt.Sprintf("%q %s is no amount of money.", strings.TrimSpace(a.Text), a.Currency), "Take the file from the bank again.")
		return money.Amount{}, false
	}
	switch strings.TrimSpace(side) {
	case "CRDT":
	case "DBIT":
		amount = amount.Neg()
	default:
		r.fault("no_side", at+"/CdtDbtInd", fmt.Sprintf("%q is neither CRDT nor DBIT.", side), "Take the file from the bank again.")
		return money.Amount{}, false
	}
	return amount, true
}

// entry adds an entry's lines: one, or one for each of its parts where they
// come to the entry.
func (r *camtReader) entry(e camtEntry, at int) {
	if status := strings.TrimSpace(e.Status.Code + e.Status.Text); status != "BOOK" && status != "" {
		r.now.NotBooked++
		return
	}
	whole, ok := r.amount(e.Amount, e.Side, "Ntry")
	day := e.Booked.day()
	if !calendar.Valid(day) {
		r.fault("no_day", "Ntry/BookgDt", fmt.Sprintf("%q is not a day.", day), "Take the file from the bank again.")
		return
	}
	if !ok {
		return
	}
	if r.now.Currency == "" {
		r.now.Currency = whole.Currency()
	}
	line := Line{Day: day, ValueDay: e.Value.day(), Amount: whole, BankID: text(e.BankID), At: at,
		Reversal: strings.TrimSpace(e.Reversal) == "true" || strings.TrimSpace(e.Reversal) == "1"}
	if !calendar.Valid(line.ValueDay) {
		line.ValueDay = ""
	}
	amounts := r.split(e, whole)
	if amounts == nil {
		if len(e.Parts) > 0 {
			e.Parts[0].tell(&line)
		}
		if len(e.Parts) > 1 {
			line.Words = text(line.Words, fmt.Sprintf("(%d payments together)", len(e.Parts)))
		}
		if line.Words == "" {
			line.Words = text(e.More)
		}
		r.add(line)
		return
	}
	for i := range e.Parts {
		one := line
		one.Amount = amounts[i]
		e.Parts[i].tell(&one)
		if one.Words == "" {
			one.Words = text(e.More)
		}
		r.add(one)
	}
}

func (r *camtReader) add(l Line) {
	if r.lines++; r.lines == MaxLines+1 {
		r.fault("too_many", "Ntry", fmt.Sprintf("The file has more than %d lines.", MaxLines), "Ask the bank for fewer days at once.")
	}
	if r.lines <= MaxLines {
		r.now.Lines = append(r.now.Lines, l)
	}
}

// split gives each part's amount where there are several that come to the
// whole; nil where the entry is one line.
func (r *camtReader) split(e camtEntry, whole money.Amount) []money.Amount {
	if len(e.Parts) < 2 {
		return nil
	}
	list := make([]money.Amount, len(e.Parts))
	left := whole.Minor()
	for i, p := range e.Parts {
		found := p.Amount
		if found == nil {
			found = p.Amounts.Transaction
		}
		if found == nil {
			return nil
		}
		amount, err := roundNumber(found.Text, money.Currency(found.Currency))
		if err != nil || amount.Currency() != whole.Currency() {
			return nil
		}
		side := p.Side
		if side == "" {
			side = e.Side
		}
		if strings.TrimSpace(side) == "DBIT" {
			amount = amount.Neg()
		}
		list[i], left = amount, left-amount.Minor()
	}
	if left != 0 {
		return nil
	}
	return list
}

// tell puts what a part says into its line.
func (p *camtPart) tell(l *Line) {
	if id := text(p.BankID); id != "" {
		l.BankID = id
	}
	l.Words = text(append(p.Words, p.More)...)
	l.Reference = account(text(p.Reference))
	if end := text(p.EndToEnd); end != "NOTPROVIDED" {
		l.EndToEnd = end
	}
	other, number := p.Parties.Debtor, p.Parties.DebtorAccount
	if l.Amount.Sign() < 0 != l.Reversal { // who was paid, or gives back what it was paid
		other, number = p.Parties.Creditor, p.Parties.CreditorAccount
	}
	l.Party, l.PartyAccount = text(other.Name, other.Inner), account(number.IBAN+number.Other)
	if i := p.Amounts.Instructed; i != nil && i.Currency != string(l.Amount.Currency()) {
		if amount, err := roundNumber(i.Text, money.Currency(i.Currency)); err == nil {
			l.Foreign = &Foreign{Amount: amount, Rate: text(p.Amounts.Rate + p.Amounts.OtherRate)}
			if l.Amount.Sign() < 0 {
				l.Foreign.Amount = amount.Neg()
			}
		}
	}
}

func (d camtDay) day() string { return dayOf(d.Day + d.Moment) }

// dayOf is the day of a date or a moment, where the bank is.
func dayOf(s string) string {
	if s = strings.TrimSpace(s); len(s) >= len("2006-01-02") {
		s = s[:len("2006-01-02")]
	}
	return s
}
