using System.Collections;
using System.Collections.Concurrent;
using System.Reflection;

namespace Traceability.Core.Events;

/// <summary>The values of one type inside the content of a fact, at any depth, in the order of the content.</summary>
internal static class FactContent
{
    public static IEnumerable<T> Of<T>(object? value) where T : struct
    {
        if (value is T found) return [found];
        if (value is null || !Holder<T>.MayBe(value.GetType(), 0)) return [];
        return value is IEnumerable several ? several.Cast<object?>().SelectMany(Of<T>) : Holder<T>.Properties(value.GetType()).SelectMany(p => Of<T>(p.GetValue(value)));
    }

    // Which types can hold a T is found once for each: most facts hold no time, and a profile holds a thousand limits.
    private static class Holder<T> where T : struct
    {
        // Facts are trees of a few levels; the bound ends types that hold their own kind.
        private const int Deepest = 6;

        private static readonly ConcurrentDictionary<Type, PropertyInfo[]> s_properties = [];
        private static readonly ConcurrentDictionary<Type, bool> s_mayBe = [];

        public static PropertyInfo[] Properties(Type type) => s_properties.GetOrAdd(type, t => [.. Content(t).Where(p => MayBe(p.PropertyType, 0))]);

        public static bool MayBe(Type type, int depth)
        {
            if (type == typeof(T) || type == typeof(T?)) return true;
            if (depth == Deepest || type == typeof(string) || type.IsPrimitive || type.IsEnum) return false;
            if (Element(type) is { } element) return MayBe(element, depth + 1);
            if (type.Assembly != typeof(FactContent).Assembly) return false;
            return depth > 0 ? Content(type).Any(p => MayBe(p.PropertyType, depth + 1)) : s_mayBe.GetOrAdd(type, t => Content(t).Any(p => MayBe(p.PropertyType, 1)));
        }

        // Content is what the constructor takes; what a fact computes from it is none.
        private static IEnumerable<PropertyInfo> Content(Type type) =>
            type.GetConstructors().SelectMany(c => c.GetParameters()).Select(p => type.GetProperty(p.Name!)).OfType<PropertyInfo>().Distinct();

        private static Type? Element(Type type) =>
            type.IsArray ? type.GetElementType()
            : type.GetInterfaces().Prepend(type).FirstOrDefault(i => i.IsGenericType && i.GetGenericTypeDefinition() == typeof(IEnumerable<>))?.GetGenericArguments()[0];
    }
}
