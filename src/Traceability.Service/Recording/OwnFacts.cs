using System.Globalization;
using System.Text.Json;
using System.Text.Json.Serialization;
using Traceability.Core.Events;
using Traceability.Core.Records;

namespace Traceability.Service.Recording;

/// <summary>Facts that the service itself writes, under a source that no station may send under.</summary>
public static class OwnFacts
{
    private static readonly JsonSerializerOptions s_withoutNulls = new() { DefaultIgnoreCondition = JsonIgnoreCondition.WhenWritingNull };

    /// <summary>Writes a fact in the open transaction.</summary>
    /// <exception cref="FactShapeException">The content does not have the shape of its type.</exception>
    public static async Task<Outcome> AddOwnAsync(this Writing writing, IFact fact, DateTimeOffset now, string? person, string assurance, string delivered, CancellationToken cancel) =>
        (await writing.AddAsync([Of(fact, Guid.CreateVersion7(now), now, person, assurance, delivered)], cancel))[0];

    /// <summary>A fact of the service's own as it is handed to the recorder.</summary>
    /// <param name="id">Of the event.</param>
    /// <param name="person">Whose act it is; null when nobody signed for it.</param>
    /// <param name="assurance">How the person proved it, for example "pin".</param>
    /// <param name="delivered">How the service came by it, as the record says it.</param>
    /// <exception cref="FactShapeException">The content does not have the shape of its type.</exception>
    public static (Received Entry, CloudEvent Sent) Of(IFact fact, Guid id, DateTimeOffset now, string? person, string assurance, string delivered)
    {
        var type = FactCatalog.Of(fact);
        var data = FactCatalog.Write(fact);
        FactCatalog.Read(type, data);
        var canonical = CanonicalJson.Canonicalize(JsonSerializer.SerializeToUtf8Bytes(new
        {
            specversion = "1.0",
            id = id.ToString(),
            source = Recorder.DecisionsSource,
            type = type.Type,
            subject = fact.About.Key,
            time = now.ToString("yyyy-MM-dd'T'HH:mm:ss.ffffffzzz", CultureInfo.InvariantCulture),
            datacontenttype = "application/json",
            person,
            clockoffsetms = 0,
            assurance,
            data,
        }, s_withoutNulls));
        return (new Received(canonical, "service", delivered, now, null, System.Diagnostics.Activity.Current?.Id), CloudEvent.ReadCanonical(canonical));
    }
}
