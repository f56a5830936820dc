using System.Globalization;
using System.Security.Cryptography;
using System.Text.Json;
using Traceability.Core.Events;

namespace Traceability.Core.Records;

/// <summary>
/// A fact as sent: CloudEvents 1.0 in JSON structured mode. Extension attributes of ours: <c>person</c> (id of the signed-on
/// person), <c>clockoffsetms</c> (station clock minus service clock at the last sync, milliseconds), <c>deviceseq</c> and
/// <c>deviceprev</c> (a device's own numbering and the content hash of its previous entry), <c>assurance</c> (how the person signed on).
/// </summary>
public sealed record CloudEvent
{
    /// <summary>Largest accepted single event, bytes.</summary>
    public const int LargestBytes = 256 * 1024;

    public required string Id { get; init; }
    public required string Source { get; init; }
    public required string Type { get; init; }
    public required DateTimeOffset Time { get; init; }
    public string? SubjectText { get; init; }
    public string? Person { get; init; }
    public string? Assurance { get; init; }
    public long? ClockOffsetMs { get; init; }
    public long? DeviceSeq { get; init; }
    public string? DevicePrev { get; init; }
    public required JsonElement Data { get; init; }

    /// <summary>RFC 8785 form of the whole event: what is hashed and kept.</summary>
    public required ReadOnlyMemory<byte> Canonical { get; init; }

    /// <summary>SHA-256 of <see cref="Canonical"/>, lower-case hex.</summary>
    public required string ContentHash { get; init; }

    public Guid RecordId => Records.RecordId.Of(Source, Id);

    /// <summary>Reads one event.</summary>
    /// <exception cref="FactShapeException">An attribute is missing or malformed; names it.</exception>
    /// <exception cref="CanonicalJsonException">The bytes are not JSON that has a canonical form.</exception>
    public static CloudEvent Read(ReadOnlySpan<byte> json)
    {
        if (json.Length > LargestBytes)
            throw new FactShapeException([new("event", $"must be at most {LargestBytes} bytes, it is {json.Length}", "Split it; attach documents by reference.")]);
        return ReadCanonical(CanonicalJson.Canonicalize(json));
    }

    /// <summary>Reads one event from bytes already in canonical form.</summary>
    public static CloudEvent ReadCanonical(ReadOnlyMemory<byte> canonical)
    {
        using var document = JsonDocument.Parse(canonical);
        var root = document.RootElement;
        if (root.ValueKind != JsonValueKind.Object)
            throw new FactShapeException([new("event", "must be a JSON object", "Send one CloudEvents 1.0 event in JSON structured mode.")]);

        var problems = new List<ShapeProblem>();
        string? Text(string name, bool required, int longest = 200)
        {
            if (!root.TryGetProperty(name, out var value) || value.ValueKind == JsonValueKind.Null)
            {
                if (required) problems.Add(new(name, "is required by CloudEvents 1.0 and by this service", "Send it as a non-empty text."));
                return null;
            }

            if (value.ValueKind != JsonValueKind.String || value.GetString() is not { Length: > 0 } text || text.Length > longest)
            {
                problems.Add(new(name, $"must be a text of 1 to {longest} characters", "Send it as a text."));
                return null;
            }

            return text;
        }

        long? Number(string name)
        {
            if (!root.TryGetProperty(name, out var value) || value.ValueKind == JsonValueKind.Null) return null;
            if (value.ValueKind == JsonValueKind.Number && value.TryGetInt64(out var number)) return number;
            if (value.ValueKind == JsonValueKind.String && long.TryParse(value.GetString(), NumberStyles.AllowLeadingSign, CultureInfo.InvariantCulture, out number)) return number;
            problems.Add(new(name, "must be a whole number", "Send an integer."));
            return null;
        }

        var version = Text("specversion", true);
        if (version is not null and not "1.0") problems.Add(new("specversion", "must be \"1.0\"", "Send CloudEvents 1.0."));
        var id = Text("id", true);
        var source = Text("source", true);
        var type = Text("type", true);
        var time = Text("time", true);
        if (!TryTime(time, out var at) && time is not null)
            problems.Add(new("time", "must be an RFC 3339 time with its offset, for example 2026-03-02T09:30:00-05:00", "Never send a bare local time."));
        if (Text("datacontenttype", false) is { } content && !content.StartsWith("application/json", StringComparison.Ordinal))
            problems.Add(new("datacontenttype", "must be application/json", "Send the content as JSON."));
        if (!root.TryGetProperty("data", out var data)) problems.Add(new("data", "is required", "Send the content of the fact."));
        var read = new
        {
            Subject = Text("subject", false),
            Person = Text("person", false),
            Assurance = Text("assurance", false),
            Offset = Number("clockoffsetms"),
            Seq = Number("deviceseq"),
            Prev = Text("deviceprev", false),
        };
        if (problems.Count > 0) throw new FactShapeException(problems);
        return new CloudEvent
        {
            Id = id!,
            Source = source!,
            Type = type!,
            Time = at,
            SubjectText = read.Subject,
            Person = read.Person,
            Assurance = read.Assurance,
            ClockOffsetMs = read.Offset,
            DeviceSeq = read.Seq,
            DevicePrev = read.Prev,
            Data = data.Clone(),
            Canonical = canonical,
            ContentHash = Convert.ToHexStringLower(SHA256.HashData(canonical.Span)),
        };
    }

    private static readonly string[] Rfc3339 =
    [
        "yyyy-MM-dd'T'HH:mm:sszzz", "yyyy-MM-dd'T'HH:mm:ss.FFFFFFFzzz",
        "yyyy-MM-dd'T'HH:mm:ss'Z'", "yyyy-MM-dd'T'HH:mm:ss.FFFFFFF'Z'",
    ];

    private static bool TryTime(string? text, out DateTimeOffset time) =>
        DateTimeOffset.TryParseExact(text, Rfc3339, CultureInfo.InvariantCulture, DateTimeStyles.AssumeUniversal, out time);
}
