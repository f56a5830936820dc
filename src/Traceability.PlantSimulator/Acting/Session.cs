using System.Net;
using System.Net.Http.Headers;
using System.Net.Http.Json;
using System.Text.Json;
using Traceability.PlantSimulator.Story.Weeks;

namespace Traceability.PlantSimulator.Acting;

/// <summary>A signed-on person. Signs on anew when the session has run out, as it does when the scenario clock leaps.</summary>
public sealed class Session : IDisposable
{
    private readonly PersonCredential _person;
    private readonly HttpClient _http;

    public Session(Uri service, PersonCredential person)
    {
        _person = person;
        _http = new HttpClient(new SocketsHttpHandler { CookieContainer = new CookieContainer(), AllowAutoRedirect = false }) { BaseAddress = service, Timeout = TimeSpan.FromSeconds(60) };
    }

    public string Pin => _person.Pin;

    /// <exception cref="RefusedException">The service does not know the person or the password.</exception>
    public async Task<HttpResponseMessage> SendAsync(HttpMethod method, string path, object? body, CancellationToken cancel)
    {
        var answer = await OnceAsync(method, path, body, cancel);
        if (answer.StatusCode != HttpStatusCode.Unauthorized) return answer;
        answer.Dispose();
        using var signedOn = await OnceAsync(HttpMethod.Post, "v1/sign-in", new { person = _person.Id, password = _person.Password }, cancel);
        if (signedOn.StatusCode == HttpStatusCode.Unauthorized)
        {
            // The first time in this installation.
            await OwnSecrets.ChooseAsync(_http.BaseAddress!, _person, cancel);
            using var again = await OnceAsync(HttpMethod.Post, "v1/sign-in", new { person = _person.Id, password = _person.Password }, cancel);
            if (!again.IsSuccessStatusCode) throw new RefusedException($"{_person.Id} cannot sign on: {(int)again.StatusCode} {await again.Content.ReadAsStringAsync(cancel)}");
        }
        else if (!signedOn.IsSuccessStatusCode)
        {
            throw new RefusedException($"{_person.Id} cannot sign on: {(int)signedOn.StatusCode} {await signedOn.Content.ReadAsStringAsync(cancel)}");
        }

        return await OnceAsync(method, path, body, cancel);
    }

    /// <exception cref="RefusedException">The answer is not a success; the message holds it.</exception>
    public async Task<JsonElement> JsonAsync(HttpMethod method, string path, object? body, CancellationToken cancel)
    {
        using var answer = await SendAsync(method, path, body, cancel);
        var text = await answer.Content.ReadAsStringAsync(cancel);
        if (!answer.IsSuccessStatusCode) throw new RefusedException($"{method} {path} answered {(int)answer.StatusCode}: {text}");
        using var document = JsonDocument.Parse(text);
        return document.RootElement.Clone();
    }

    public void Dispose() => _http.Dispose();

    private async Task<HttpResponseMessage> OnceAsync(HttpMethod method, string path, object? body, CancellationToken cancel)
    {
        using var request = new HttpRequestMessage(method, path) { Content = body switch { null => null, Paper paper => new ByteArrayContent(paper.Bytes), _ => JsonContent.Create(body) } };
        if (body is Paper) request.Content!.Headers.ContentType = new MediaTypeHeaderValue("application/pdf");
        return await _http.SendAsync(request, cancel);
    }
}

/// <summary>The sign-ons of a run, one for each person when first needed.</summary>
public sealed class Sessions(Uri service, Credentials credentials) : IDisposable
{
    private readonly Dictionary<string, Session> _sessions = new(StringComparer.Ordinal);

    public Session Of(Story.Worker person) =>
        _sessions.TryGetValue(person.Id, out var session) ? session : _sessions[person.Id] = new Session(service, credentials.Person(person.Id));

    public void Dispose()
    {
        foreach (var session in _sessions.Values) session.Dispose();
    }
}
