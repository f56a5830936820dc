using System.Text.Json;
using System.Text.Json.Serialization;
using System.Text.Json.Serialization.Metadata;

namespace Traceability.Core.Events;

/// <summary>The one set of JSON rules for the content of facts: strict about names, required members and nulls.</summary>
public static class FactJson
{
    public static readonly JsonSerializerOptions Options = Create();

    private static JsonSerializerOptions Create()
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
