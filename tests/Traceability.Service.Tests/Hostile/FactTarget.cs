using System.Globalization;
using System.Text;
using System.Text.Json;
using System.Text.Json.Nodes;
using CsCheck;
using Json.Schema;
using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Records;
using Traceability.Core.Tests.Events;
using Traceability.Core.Tests.Judging;
using Traceability.PlantSimulator.Story;
using Record = Traceability.Core.Records.Record;

namespace Traceability.Service.Tests.Hostile;

/// <summary>
/// Facts as the core reads them. What is accepted is accepted by the published schemas too, comes back from its own bytes as it was, and can be judged
/// beside the records of a unit.
/// </summary>
internal sealed class FactTarget : Target
{
    private static readonly List<byte[]> s_right = [.. Golden.AllTypes.SelectMany(t => Golden.Forms(t).Select(f => Envelope(t, Golden.Data(t, f)))), .. Story()];

    private static readonly Dictionary<string, Gen<JsonNode?>> s_made = FactCatalog.All.Values.ToDictionary(t => t.Type, t => FactGen.Content(t.Shape));

    private static readonly List<string> s_types = [.. s_made.Keys.Order(StringComparer.Ordinal)];

    private static readonly Dictionary<string, JsonSchema> s_schemas = Schemas(out s_envelope);

    private static readonly JsonSchema s_envelope;

    public override string Name => "facts";

    public override int Share => 8000;

    /// <summary>A fact to be taken in: a frozen or a told one spoilt, or one made from its type's shape.</summary>
    public static byte[] Make(Attempt a)
    {
        if (a.OneIn(20)) return a.Of(s_right);
        if (!a.OneIn(4)) return Spoil.Json(a, a.Of(s_right), a.Of(s_right));
        var type = a.Of(s_types);
        var content = s_made[type].Generate(new PCG(RunSeed.Hash(type), (ulong)a.Random.NextInt64()), null, out _);
        var made = Envelope(type, JsonSerializer.SerializeToElement(content));
        return a.OneIn(3) ? Spoil.Json(a, made, a.Of(s_right)) : made;
    }

    public override Task<Answer> TryAsync(Attempt attempt)
    {
        var json = attempt.Keep("fact.json", Make(attempt));
        if (Read(json) is not { } sent) return Task.FromResult(Answer.Refused);
        if (!FactCatalog.All.TryGetValue(sent.Type, out var type)) return Task.FromResult(Answer.Refused);
        IFact fact;
        try
        {
            fact = FactCatalog.Read(type, sent.Data);
            foreach (var link in Links.OfRecord(fact, sent, sent.RecordId)) _ = link.To;
        }
        catch (FactShapeException e)
        {
            InWords(e);
            return Task.FromResult(Answer.Refused);
        }

        // The schema of events tries every type's; judging takes a whole unit. Some of many are enough.
        AcceptedRightly(sent, type, fact, whole: attempt.OneIn(4));
        if (attempt.OneIn(16)) Judged(sent);
        return Task.FromResult(Answer.Taken);
    }

    /// <summary>The event, or null where it is refused, which must be in words.</summary>
    public static CloudEvent? Read(byte[] json)
    {
        try
        {
            return CloudEvent.Read(json);
        }
        catch (FactShapeException e)
        {
            InWords(e);
        }
        catch (CanonicalJsonException e)
        {
            Attempt.Require(e.Path.StartsWith('$') && e.Reason.Length > 10, "refused without a place or a reason");
        }

        return null;
    }

    private static void InWords(FactShapeException e) =>
        Attempt.Require(e.Problems.Count > 0 && e.Problems.All(p => p.Field.Length > 0 && p.Limit.Length > 4 && p.Remedy.Length > 4), "refused without a field, a limit or a remedy");

    private static void AcceptedRightly(CloudEvent sent, FactType type, IFact fact, bool whole)
    {
        Attempt.Require(CanonicalJson.Canonicalize(sent.Canonical.Span).AsSpan().SequenceEqual(sent.Canonical.Span), "the canonical form is not its own canonical form");
        var again = CloudEvent.ReadCanonical(sent.Canonical);
        Attempt.Require(again.ContentHash == sent.ContentHash && again.RecordId == sent.RecordId && again.Time == sent.Time, "the canonical form reads to another event");
        var at = sent.Time.AddSeconds(5);
        var record = Record.Read(Record.Write(sent, sent.RecordId, "hostile-1", "intake", at, at), 1);
        Attempt.Require(record.Fact is not null && record.Sent.ContentHash == sent.ContentHash && record.Id == sent.RecordId, "the record does not read to the fact it was written from");
        var written = FactCatalog.Write(fact);
        Attempt.Require(FactCatalog.Write(FactCatalog.Read(type, written)).GetRawText() == written.GetRawText(), "the fact written anew reads to another fact");
        using var events = JsonDocument.Parse(sent.Canonical);
        if (!Comparable(events.RootElement)) return;
        Attempt.Require(s_schemas[type.Type].Evaluate(sent.Data).IsValid, "the reader accepts what the schema of its type refuses");
        Attempt.Require(!whole || s_envelope.Evaluate(events.RootElement).IsValid, "the reader accepts what the schema of events refuses");
    }

    // A record is there once; what was sent again under the id of another never stands beside it.
    private static void Judged(CloudEvent sent)
    {
        var good = UnitCase.Good;
        if (good.Records.Any(r => r.Id == sent.RecordId)) return;
        var dossier = new Dossier(Subject.Unit(UnitCase.Unit), good.Records.Count + 1, [.. good.Records, UnitCase.Recorded(sent, good.Records.Count + 1)], PlantStory.Time);
        Attempt.Require(Core.Judging.Judge.Dossier(dossier, good.At).Findings.Count > 0, "beside it nothing is judged any more");
    }

    // The outside validator counts what is seen as one character as one, where JSON Schema (validation, 6.3.1) counts each, and lets "$" match before a last line feed, which ECMA-262 does not.
    private static bool Comparable(JsonElement value) => value.ValueKind switch
    {
        JsonValueKind.String => Comparable(value.GetString()!),
        JsonValueKind.Array => value.EnumerateArray().All(Comparable),
        JsonValueKind.Object => value.EnumerateObject().All(p => Comparable(p.Name) && Comparable(p.Value)),
        _ => true,
    };

    private static bool Comparable(string text) => !text.EndsWith('\n') && new StringInfo(text).LengthInTextElements == text.EnumerateRunes().Count();

    private static Dictionary<string, JsonSchema> Schemas(out JsonSchema envelope)
    {
        var options = new BuildOptions { SchemaRegistry = new SchemaRegistry() };
        var origin = new Uri("https://plant.example/");
        var schemas = FactCatalog.All.Values.ToDictionary(t => t.Type, t => JsonSchema.FromText(FactSchema.Of(t).ToJsonString(), options, origin));
        envelope = JsonSchema.FromText(FactSchema.Envelope().ToJsonString(), options, origin);
        return schemas;
    }

    private static byte[] Envelope(string type, JsonElement data) => JsonSerializer.SerializeToUtf8Bytes(new
    {
        specversion = "1.0", id = "hostile-1", source = "/plant/hostile-1", type, time = "2026-03-02T09:30:00-05:00", datacontenttype = "application/json",
        person = "p-017", clockoffsetms = 120, deviceseq = 42, deviceprev = "9f86d081884c7d65", assurance = "pin", data,
        devicesignature = Convert.ToBase64String(new byte[64]),
    });

    // Facts of the unit itself, so that what is read bears on what is judged.
    private static IEnumerable<byte[]> Story() => UnitCase.Good.Records.Select(r =>
        Encoding.UTF8.GetBytes(Encoding.UTF8.GetString(r.Sent.Canonical.Span).Replace($"\"id\":{JsonSerializer.Serialize(r.Sent.Id)},", "\"id\":\"hostile-2\",", StringComparison.Ordinal)));
}
