using System.Globalization;
using System.Text;
using Traceability.Core.Dossiers;
using Traceability.Core.Events;

namespace Traceability.Core.Tests.Events;

/// <summary>docs/events.md is generated from the shapes that facts are read by and from the frozen contents.</summary>
public class EventCatalogueTests
{
    [Fact]
    public void The_catalogue_of_facts_has_not_drifted() => Repository.AssertGenerated(Catalogue(), "docs", "events.md");

    // Corrections, withdrawals, dispositions, approvals, clearing, allocation, what the agency does and who its inspectors are, profiles, contracts, drawings, mixes, certificates,
    // calibrations, approvals of plants and sources, roles, notices, plans of casting and sampling, documents, changes of people, secrets and devices, and every decision that the service writes.
    private static readonly string[] s_acts =
    [
        "administrator.recovered", "agency-hold.released", "agency.accepted", "agency.present", "agency.rejected", "agency.waived", "agency.witnessed", "close-up.released", "contract.obligated", "contract.opened", "device.enrolled", "device.revoked", "device.tied", "document.attached",
        "drawing.approved", "drawing.revised", "drawing.superseded", "hold.overridden", "inspector.assigned", "instrument.calibrated", "load-certificate.issued", "lot.certified", "lot.cleared", "maturity.related", "mix.approved",
        "nonconformance.approved", "nonconformance.closed", "nonconformance.disposed", "notice.given", "passkey.added", "passkey.removed", "person.certified", "person.erased", "person.registered", "person.roles-confirmed", "person.roles-ended", "person.roles-refused", "person.roles-set", "person.sessions-ended", "plant.approved", "pour.released", "profile.adopted", "profile.confirmed",
        "profile.published", "random-number.drawn", "record-packet.issued", "record.corrected", "record.withdrawn", "release.undone", "role.delegated", "role.granted", "sampling-lot.defined", "secret.chosen", "secret.given", "ship.released",
        "source.approved", "strip.released", "supplement.issued", "tying.released", "unit.allocated", "unit.re-marked", "unit.recast", "unit.rejected", "unit.scheduled", "unit.stamped",
    ];

    [Fact]
    public void What_somebody_with_a_duty_decided_or_certified_is_an_act_and_every_decision_is_one()
    {
        Assert.Equal(s_acts, FactCatalog.All.Values.Where(t => t.Kind == FactKind.Act).Select(t => t.Name).Distinct().Order(StringComparer.Ordinal));
        Assert.All(FactCatalog.All.Values, t => Assert.True(Enum.IsDefined(t.Kind) && (t.Kind == FactKind.Act || !t.Clr.IsAssignableTo(typeof(IDecision))), t.Type));
    }

    private static string Catalogue()
    {
        var text = new StringBuilder();
        void Line(string line = "") => text.Append(line).Append('\n');
        Line("# Facts");
        Line();
        Line("Generated from the fact types; the tests keep it from drifting (`TRACE_WRITE_DOCS=1` writes it anew). Names and versions are frozen: a");
        Line("type is never renamed and never reused. A type may become laxer (an optional member more, a required one less); any other change of shape is");
        Line("a new version.");
        Line();
        Line("A fact is a CloudEvents 1.0 event in JSON. The service serves a JSON Schema per type at `/v1/schemas/{type}` and one of the envelope at");
        Line($"`/v1/schemas/{FactSchema.EnvelopeName}`. Quantities are decimal strings or inch fractions with the unit in the field's name; times carry their");
        Line("offset. A value out of limits is never refused: it is judged. What is refused is what cannot be read, and the answer names the field.");
        Line();
        Line("A reading is what was measured, done or seen at a station, and the station's key is enough. An act is what somebody with a duty decided or certified: it counts");
        Line("only with proof of that person, a sign-on token of now or the PIN; with a station's key alone it is kept as a claim until its person confirms it.");
        Line();
        Line("| type | is | recorded by | stream | what happened |");
        Line("|---|---|---|---|---|");
        foreach (var type in Types()) Line($"| [{type.Type}](#{Anchor(type.Type)}) | {(type.Kind == FactKind.Act ? "act" : "reading")} | {string.Join(", ", type.Roles)} | {Golden.Fact(type.Type).About.Kind} | {type.Summary} |");
        foreach (var type in Types())
        {
            var fact = Golden.Fact(type.Type);
            Line();
            Line($"## {type.Type}");
            Line();
            Line($"{type.Summary} Recorded by: {string.Join(" or ", type.Roles)}. Stream: {fact.About.Kind}, for example `{fact.About.Key}`."
                + (fact.BusinessKey is { } key ? $" The same fact may arrive twice: its own key is `{key}`." : ""));
            var links = Links.Of(fact).Where(l => l.Kind != LinkKind.About).Select(l => $"{l.From.Kind} {Words(l.Kind)} {l.To.Kind}").Distinct().ToList();
            if (links.Count > 0) Line($"Ties together: {string.Join(", ", links)}.");
            Line();
            Line("| field | required | what it is |");
            Line("|---|---|---|");
            Fields(Line, type.Shape, "");
        }

        return text.ToString();
    }

    private static IEnumerable<FactType> Types() => FactCatalog.All.Values.OrderBy(t => t.Type, StringComparer.Ordinal);

    private static void Fields(Action<string> line, FactShape shape, string path)
    {
        foreach (var member in shape.Members)
        {
            var list = member.Shape.Kind == ShapeKind.List;
            var name = path + member.Name + (list ? "[]" : "");
            var words = string.Join(" ", new[] { member.Description, FactSchema.Words(member.Name, member.Shape) }.Where(w => w.Length > 0));
            line(string.Create(CultureInfo.InvariantCulture, $"| `{name}` | {(member.Required ? "yes" : "no")} | {words} |"));
            Fields(line, member.Shape.Element ?? member.Shape, name + ".");
        }
    }

    private static string Words(LinkKind kind) => kind switch
    {
        LinkKind.MadeFrom => "made from",
        LinkKind.JudgedBy => "judged by",
        _ => "governed by",
    };

    private static string Anchor(string type) => type.Replace(".", "", StringComparison.Ordinal);
}
