using System.Net;
using System.Text.RegularExpressions;

namespace Traceability.Service.Tests.Pages;

/// <summary>Reads pages and posts their forms, as a browser without script does.</summary>
internal static partial class PageVisitor
{
    /// <summary>A page's text as a reader sees it: tags away, entities read, spaces as one.</summary>
    public static string Text(string html) =>
        Spaces().Replace(WebUtility.HtmlDecode(Tags().Replace(html, " ")), " ");

    public static async Task<(HttpStatusCode Status, string Html)> PageAsync(this HttpClient http, string path)
    {
        using var answer = await http.GetAsync(path);
        return (answer.StatusCode, await answer.Content.ReadAsStringAsync());
    }

    public static async Task<HttpResponseMessage> PostFormAsync(this HttpClient http, string formPage, string action, params (string Name, string Value)[] fields)
    {
        var token = Token().Match((await http.PageAsync(formPage)).Html).Groups[1].Value;
        return await http.PostAsync(action, new FormUrlEncodedContent(
            fields.Select(f => KeyValuePair.Create(f.Name, f.Value)).Append(KeyValuePair.Create("__RequestVerificationToken", token))));
    }

    /// <summary>Posts a form with a file in it.</summary>
    public static async Task<HttpResponseMessage> PostFormAsync(this HttpClient http, string formPage, string action, (string Name, byte[] Bytes) file, params (string Name, string Value)[] fields)
    {
        using var form = new MultipartFormDataContent { { new StringContent(Token().Match((await http.PageAsync(formPage)).Html).Groups[1].Value), "__RequestVerificationToken" }, { new ByteArrayContent(file.Bytes), file.Name, "letter" } };
        foreach (var (name, value) in fields) form.Add(new StringContent(value), name);
        return await http.PostAsync(action, form);
    }

    [GeneratedRegex("<(style|script|head)[^>]*>.*?</\\1>|<[^>]+>", RegexOptions.Singleline)]
    private static partial Regex Tags();

    [GeneratedRegex("\\s+")]
    private static partial Regex Spaces();

    [GeneratedRegex("name=\"__RequestVerificationToken\" type=\"hidden\" value=\"([^\"]+)\"")]
    private static partial Regex Token();
}
