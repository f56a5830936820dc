using System.Collections;
using System.Collections.Concurrent;
using System.Reflection;
using Traceability.Core.Events;
using Traceability.Core.Quantities;
using Traceability.Core.Records;

namespace Traceability.Core.Integrity;

/// <summary>A station's fact with when it happened and when it was entered.</summary>
/// <param name="Begins">The earliest time the content or the event states, corrected by the station's clock.</param>
/// <param name="Ends">The latest that is not after the entry.</param>
/// <param name="At">When somebody entered it: of a kiosk's numbered entry its own time, however late it was delivered; of any other when it was received.</param>
internal sealed record Entered(Record Record, FactType Type, DateTimeOffset Begins, DateTimeOffset Ends, DateTimeOffset At)
{
    private static readonly ConcurrentDictionary<Type, PropertyInfo[]> s_properties = new();

    public string? Person => Record.Person;

    public IFact Fact => Record.Fact!;

    /// <summary>The records of stations, without decisions, corrections and what the office copies from documents.</summary>
    public static IReadOnlyList<Entered> Of(IEnumerable<Record> records) =>
        [.. records.Where(r => r is { Fact: not null and not (IDecision or RecordCorrected or RecordWithdrawn), IsConflict: false }).Select(Of)
            .Where(e => e.Type.Role is not (Roles.QualityEngineer or Roles.AgencyInspector or Roles.Administrator))];

    public static Entered Of(Record record)
    {
        var offset = TimeSpan.FromMilliseconds(record.Sent.ClockOffsetMs ?? 0);
        var occurred = record.OccurredAt.At;
        // Times the content states were read off the same clock; one after the entry is a plan, not a happening.
        var times = Of<DateTimeOffset>(record.Fact!).Select(t => t - offset).Where(t => t <= occurred).Append(occurred).ToList();
        return new(record, FactCatalog.Of(record.Fact!), times.Min(), times.Max(), record.Sent.DeviceSeq is null ? record.ReceivedAt : occurred);
    }

    /// <summary>The readings of the content, in its order.</summary>
    public IReadOnlyList<string> Readings() => [.. Of<Reading>(Fact).Select(r => r.Text)];

    private static IEnumerable<T> Of<T>(object content) where T : struct
    {
        foreach (var property in s_properties.GetOrAdd(content.GetType(), t => [.. t.GetProperties(BindingFlags.Public | BindingFlags.Instance).Where(p => p.GetIndexParameters().Length == 0)]))
        {
            var type = property.PropertyType;
            if (type == typeof(T) || type == typeof(T?))
            {
                if (property.GetValue(content) is T value) yield return value;
            }
            else if (type != typeof(string) && type.IsAssignableTo(typeof(IEnumerable)))
            {
                foreach (var item in (IEnumerable?)property.GetValue(content) ?? Array.Empty<object>())
                {
                    if (item is T value) yield return value;
                    else if (IsContent(item)) foreach (var inner in Of<T>(item)) yield return inner;
                }
            }
            else if (IsContent(type) && property.GetValue(content) is { } part)
            {
                foreach (var inner in Of<T>(part)) yield return inner;
            }
        }
    }

    private static bool IsContent(object? item) => item is not null && IsContent(item.GetType());

    // Parts of a content are records of the vocabulary; a fact inside a fact would be a correction, which is not looked at.
    private static bool IsContent(Type type) => type is { IsClass: true, Namespace: "Traceability.Core.Events" } && !type.IsAssignableTo(typeof(IFact));
}
