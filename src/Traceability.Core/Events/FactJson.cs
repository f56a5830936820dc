using System.Text.Json;
using System.Text.Json.Serialization;
using System.Text.Json.Serialization.Metadata;
using Traceability.Core.Records;

namespace Traceability.Core.Events;

/// <summary>The one set of JSON rules for the content of facts: strict about names, required members and nulls.</summary>
public static class FactJson
{
    public static readonly JsonSerializerOptions Options = With(at => at);

    /// <summary>The same rules, every time that is read taken to another offset.</summary>
    internal static JsonSerializerOptions With(Func<DateTimeOffset, DateTimeOffset> local)
    {
        var options = new JsonSerializerOptions
        {
            PropertyNamingPolicy = JsonNamingPolicy.CamelCase,
            UnmappedMemberHandling = JsonUnmappedMemberHandling.Disallow,
            RespectNullableAnnotations = true,
            RespectRequiredConstructorParameters = true,
            NumberHandling = JsonNumberHandling.Strict,
            DefaultIgnoreCondition = JsonIgnoreCondition.WhenWritingNull,
            AllowDuplicateProperties = false,
            TypeInfoResolver = new DefaultJsonTypeInfoResolver { Modifiers = { HideComputed } },
        };
        options.Converters.Add(new JsonStringEnumConverter(JsonNamingPolicy.CamelCase, allowIntegerValues: false));
        options.Converters.Add(new TimeJson(local));
        options.Converters.Add(new DayJson());
        options.MakeReadOnly();
        return options;
    }

    // What a fact computes (About, BusinessKey) is not part of its content; only constructor parameters are.
    private static void HideComputed(JsonTypeInfo type)
    {
        if (!type.Type.IsAssignableTo(typeof(IFact))) return;
        for (var i = type.Properties.Count - 1; i >= 0; i--)
        {
            if (type.Properties[i].AssociatedParameter is null) type.Properties.RemoveAt(i);
        }
    }
}

// The framework would read a time without an offset in the time zone of the machine that happens to read it.
internal sealed class TimeJson(Func<DateTimeOffset, DateTimeOffset> local) : JsonConverter<DateTimeOffset>
{
    public override DateTimeOffset Read(ref Utf8JsonReader reader, Type typeToConvert, JsonSerializerOptions options) =>
        reader.TokenType == JsonTokenType.String && Rfc3339.TryRead(reader.GetString(), out var time) ? local(time) : throw new JsonException(Rfc3339.Limit);

    public override void Write(Utf8JsonWriter writer, DateTimeOffset value, JsonSerializerOptions options) => writer.WriteStringValue(Rfc3339.Write(value));
}

internal sealed class DayJson : JsonConverter<DateOnly>
{
    public override DateOnly Read(ref Utf8JsonReader reader, Type typeToConvert, JsonSerializerOptions options) =>
        reader.TokenType == JsonTokenType.String && Rfc3339.TryReadDay(reader.GetString(), out var day) ? day : throw new JsonException(Rfc3339.DayLimit);

    public override void Write(Utf8JsonWriter writer, DateOnly value, JsonSerializerOptions options) =>
        writer.WriteStringValue(value.ToString("yyyy-MM-dd", System.Globalization.CultureInfo.InvariantCulture));
}
