using System.Globalization;
using System.Text.Json;
using Traceability.Core.Events;
using Traceability.Core.Records;
using Traceability.Service.Operations;
using Traceability.Service.Recording;

namespace Traceability.Service.Packets;

/// <summary>The fact of a document that a person issued, signed with the PIN at that moment.</summary>
internal static class SignedDecision
{
    /// <param name="id">The event's id, chosen beforehand where the document names its own record.</param>
    public static async Task<Outcome> WriteAsync(Writing writing, IFact fact, string person, Guid id, DateTimeOffset now, ScenarioClock? scenario, CancellationToken cancel)
    {
        var canonical = CanonicalJson.Canonicalize(JsonSerializer.SerializeToUtf8Bytes(new
        {
            specversion = "1.0",
            id = id.ToString(),
            source = Recorder.DecisionsSource,
            type = FactCatalog.Of(fact).Type,
            subject = fact.About.Key,
            time = now.ToString("yyyy-MM-dd'T'HH:mm:ss.ffffffzzz", CultureInfo.InvariantCulture),
            datacontenttype = "application/json",
            person,
            clockoffsetms = 0,
            assurance = "pin",
            data = FactCatalog.Write(fact),
        }));
        var received = new Received(canonical, "service", "service" + (scenario is null ? "" : ", scenario clock"), now, null, System.Diagnostics.Activity.Current?.Id);
        return (await writing.AddAsync([(received, CloudEvent.ReadCanonical(canonical))], cancel))[0];
    }

    /// <summary>The record id it will have.</summary>
    public static Guid RecordOf(Guid id) => RecordId.Of(Recorder.DecisionsSource, id.ToString());
}
