using System.Text;
using System.Text.Json;
using Traceability.Core.Dossiers;
using Traceability.Core.Records;
using Traceability.Service.Assembling;

namespace Traceability.Service.Recall;

/// <summary>A recall as JSON and as CSV (RFC 4180): for the interface, the page's export and the command line alike.</summary>
public static class RecallText
{
    public static void Write(Utf8JsonWriter json, Subject subject, RecallUp? up, RecallDown? down, int first, int last)
    {
        json.WriteStartObject();
        json.WriteString("subject", subject.Key);
        json.WriteNumber("position", up?.Position ?? down!.Position);
        if (up is not null)
        {
            json.WriteBoolean("judged", up.Judged);
            var counts = up.Counts;
            json.WriteStartObject("counts");
            json.WriteNumber("total", counts.Total);
            json.WriteNumber("certain", counts.Certain);
            json.WriteNumber("possible", counts.Possible);
            json.WriteNumber("judgedBy", counts.Judged);
            json.WriteNumber("governedBy", counts.Governed);
            json.WriteNumber("noLongerNamed", counts.NoLongerNamed);
            json.WriteNumber("shipped", counts.Shipped);
            json.WriteNumber("waiting", counts.Waiting);
            json.WriteEndObject();
            json.WriteStartArray("units");
            for (var i = first; i < last; i++) Write(json, up.Units[i]);
            json.WriteEndArray();
            if (last < up.Units.Count && last > first) json.WriteString("next", up.Units[last - 1].Serial);
        }

        if (down is not null)
        {
            json.WriteStartArray("down");
            foreach (var reached in down.Subjects)
            {
                json.WriteStartObject();
                json.WriteString("subject", reached.Subject.Key);
                json.WriteString("how", How(reached.How));
                json.WriteString("link", Link(reached.Certain));
                json.WriteBoolean("named", reached.Named);
                json.WriteEndObject();
            }

            json.WriteEndArray();
        }

        json.WriteEndObject();
    }

    public static string Csv(RecallUp up, int first, int last)
    {
        var text = new StringBuilder("unit,how,link,named,phase,mark,contract,place,delivery,destination\r\n");
        for (var i = first; i < last; i++)
        {
            var u = up.Units[i];
            Line(text, u.Serial, How(u.How), Link(u.Certain), Named(u.Named), u.Phase is { } p ? Phase(p) : "not judged yet", u.Mark, u.Contract, u.Place, u.Delivery, u.Destination);
        }

        return text.ToString();
    }

    public static string Csv(RecallDown down)
    {
        var text = new StringBuilder("subject,how,link,named\r\n");
        foreach (var r in down.Subjects) Line(text, r.Subject.Key, How(r.How), Link(r.Certain), Named(r.Named));
        return text.ToString();
    }

    public static string How(ReachHow how) => how switch { ReachHow.MadeFrom => "madeFrom", ReachHow.JudgedBy => "judgedBy", _ => "governedBy" };

    public static string Link(bool certain) => certain ? "certain" : "possible";

    private static string Named(bool? named) => named switch { true => "yes", false => "no longer", _ => "waits to be judged" };

    private static string Phase(UnitPhase phase) => JsonNamingPolicy.CamelCase.ConvertName(phase.ToString());

    private static void Write(Utf8JsonWriter json, RecalledUnit unit)
    {
        json.WriteStartObject();
        json.WriteString("unit", unit.Serial);
        json.WriteString("how", How(unit.How));
        json.WriteString("link", Link(unit.Certain));
        if (unit.Named is { } named) json.WriteBoolean("named", named);
        if (unit.Phase is { } phase) json.WriteString("phase", Phase(phase));
        if (unit.Mark is not null) json.WriteString("mark", unit.Mark);
        if (unit.Contract is not null) json.WriteString("contract", unit.Contract);
        if (unit.Place is not null) json.WriteString("place", unit.Place);
        if (unit.Delivery is not null) json.WriteString("delivery", unit.Delivery);
        if (unit.Destination is not null) json.WriteString("shippedTo", unit.Destination);
        json.WriteEndObject();
    }

    private static void Line(StringBuilder text, params ReadOnlySpan<string?> fields)
    {
        for (var i = 0; i < fields.Length; i++)
        {
            if (i > 0) text.Append(',');
            var field = fields[i] ?? "";
            // A spreadsheet reads a leading sign as a formula; a leading apostrophe keeps it a text.
            if (field.Length > 0 && field[0] is '=' or '+' or '-' or '@') field = "'" + field;
            if (field.AsSpan().IndexOfAny(",\"\r\n") >= 0) text.Append('"').Append(field.Replace("\"", "\"\"", StringComparison.Ordinal)).Append('"');
            else text.Append(field);
        }

        text.Append("\r\n");
    }
}
